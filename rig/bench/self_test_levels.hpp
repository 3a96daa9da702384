#pragma once

#include <optional>
#include <span>
#include <vector>

#include "rig/bench/self_test_stimulus.hpp"

/// What steady levels through the loop-back cable say.
namespace cvrig {

/// A number and its standard uncertainty.
struct estimate {
    double value{0.0};
    double u{0.0};
};

struct rest_levels {
    volts mean{0.0};
    estimate rms_volts;        ///< about the mean
    estimate mains_rms_volts;  ///< of the stronger of 50 and 60 Hz with two harmonics
    double mains_hz{50.0};
    /// Without the mains.
    [[nodiscard]] estimate other_rms_volts() const noexcept;
};

/// The level of a channel while nothing sounds.
[[nodiscard]] rest_levels measure_rest(std::span<const float> x, sample_rate rate);

struct stair_levels {
    estimate gain;  ///< slope of the straight line
    estimate offset_volts;
    estimate departure_volts;   ///< largest departure from the line
    double worst_level{0.0};    ///< where that is, in volts sent
    bool cut_off{false};        ///< an end falls short while the middle is straight
    double reached_volts{0.0};  ///< there, the largest level that came back
};

/// Straight line through the levels of the stair, each averaged beneath a raised cosine (which
/// suppresses the mains) after the step has settled.
///
/// Input:   the loop-back's record and how far it lags; noise of the channel.
/// Refuses: empty if the record is too short.
[[nodiscard]] std::optional<stair_levels> measure_stair(std::span<const float> heard,
                                                        std::span<const test_step> stair,
                                                        std::ptrdiff_t lag, sample_rate rate,
                                                        const rest_levels& noise);

/// How fast a held level falls, from an exponential fit.
///
/// Definition: k of level * exp(-k t) above the level at rest; 1 / k is the time constant.
/// Refuses: empty if nothing fits.
[[nodiscard]] std::optional<estimate> measure_droop_per_second(std::span<const float> heard,
                                                               const test_part& gate,
                                                               std::ptrdiff_t lag, sample_rate rate,
                                                               volts at_rest);

}  // namespace cvrig
