#pragma once

namespace ferrule {

/// What a strike of the accent circuit adds to one note.
struct accent_amount {
    double level_db = 0.0;
    double brightness_octaves = 0.0;
    bool shortens_decay = false;
};

/// The accent and its memory: a capacitor that each accented note charges a little further, and
/// that empties over about a second of rest.
class accent_memory {
public:
    static constexpr double first_level_db = 4.0;
    static constexpr double first_brightness_octaves = 0.9;
    static constexpr double built_level_db = 2.0;
    static constexpr double built_brightness_octaves = 0.8;
    static constexpr double charge_per_accent = 0.35;
    static constexpr double rest_seconds = 0.4;  ///< time constant of the discharge

    /// Called when a note is struck.
    accent_amount strike(bool accented) noexcept {
        if (!accented) return {};
        const accent_amount amount{first_level_db + built_level_db * charge_,
                                   first_brightness_octaves + built_brightness_octaves * charge_,
                                   true};
        charge_ += charge_per_accent * (1.0 - charge_);
        return amount;
    }

    void wait(double kept) noexcept { charge_ *= kept; }

private:
    double charge_ = 0.0;
};

}  // namespace ferrule
