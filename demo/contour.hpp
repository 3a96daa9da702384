#pragma once

#include "demo/accent.hpp"
#include "demo/accent_reader.hpp"
#include "demo/envelope.hpp"
#include "demo/faults.hpp"
#include "demo/settings.hpp"
#include "demo/strike_rules.hpp"

namespace ferrule {

/// Both envelopes and the accent: how a note is struck, decays and is let go.
class contour {
public:
    contour(const settings& set, const fault_set& faults, double rate_hertz) noexcept;

    void set(const settings& to) noexcept {
        settings_ = to;
        ranges_ = ranges_of(to.mode);
    }

    /// What remains after one sample of each envelope, for one block.
    struct falls {
        double amplitude;
        double filter;
    };

    /// Once a block; `decay_volts` is knob and jack together, 0 to 5.
    falls follow(const events& now, bool accent_jack, double decay_volts) noexcept;

    /// One sample of the amplitude.
    double next(const falls& by) noexcept {
        filter_.next(by.filter);
        return amplitude_.next(by.amplitude) * live_gain_;
    }

    /// How far the filter is open above its knob just now.
    [[nodiscard]] double filter_octaves() const noexcept;

private:
    void strike(const strikes& which) noexcept;
    void let_go() noexcept;
    void follow_accent(bool jack_high) noexcept;
    [[nodiscard]] double filter_decay_seconds(double decay_volts) const noexcept;
    [[nodiscard]] falls falls_for(bool gate, double decay_volts) const noexcept;

    settings settings_;
    control_ranges ranges_;
    fault_set faults_;
    double sample_seconds_;
    double block_seconds_;
    accent_amount accent_;
    accent_memory memory_;
    accent_reader accent_jack_;
    envelope amplitude_;
    envelope filter_;
    double live_gain_ = 1.0;
    double gate_seconds_ = 0.0;
    double length_factor_ = 1.0;
};

}  // namespace ferrule
