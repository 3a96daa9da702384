#pragma once

#include "demo/faults.hpp"

#include <cmath>

namespace ferrule {

/// What a strike of the accent circuit adds to one note.
struct accent_amount {
    double level_db = 0.0;
    double brightness_octaves = 0.0;
    bool accented = false;
};

/// The accent and its memory: a capacitor that each accented note charges a little further, and
/// that empties over about a second of rest.
class accent_memory {
public:
    static constexpr double first_level_db = 4.0;
    static constexpr double first_brightness_octaves = 1.2;
    static constexpr double built_level_db = 2.0;
    static constexpr double built_brightness_octaves = 0.8;
    static constexpr double charge_per_accent = 0.35;
    static constexpr double rest_seconds = 0.4;  ///< time constant of the discharge

    accent_memory(const fault_set& faults, double block_seconds) noexcept
        : first_level_db_{first_level_db + faults[fault::accent_level]},
          first_octaves_{first_brightness_octaves - faults[fault::accent_opens_less]},
          charge_per_accent_{charge_per_accent *
                             (1.0 - faults[fault::accent_build_up_absent] / 100.0)},
          kept_per_block_{std::exp(-block_seconds / rest_seconds *
                                   (1.0 - faults[fault::accent_never_falls] / 100.0))} {}

    /// Called when a note is struck.
    accent_amount strike(bool accented) noexcept {
        if (!accented) return {};
        const accent_amount amount{first_level_db_ + built_level_db * charge_,
                                   first_octaves_ + built_brightness_octaves * charge_, true};
        charge_ += charge_per_accent_ * (1.0 - charge_);
        return amount;
    }

    /// Called once a block.
    void wait() noexcept { charge_ *= kept_per_block_; }

private:
    double first_level_db_;
    double first_octaves_;
    double charge_per_accent_;
    double kept_per_block_;
    double charge_ = 0.0;
};

}  // namespace ferrule
