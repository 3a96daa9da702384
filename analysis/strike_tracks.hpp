#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <vector>

#include "analysis/cycles.hpp"
#include "analysis/strike.hpp"

/// Level and brightness tracks that a strike is judged by, and the clock they share.
namespace cvrig::analysis {

constexpr seconds strike_hop{0.003};
constexpr std::size_t strike_bands = 12;
using band_values = std::array<double, strike_bands>;

/// The harmonic that shows how far the filter pulls the fundamental down: ln|H| of a low-pass
/// filter is even in frequency, so to first order harmonic k moves k^2 times as far.
enum class lean { none, second, third };

/// One record in frames of `strike_hop`; frame i is at age `first_age + i hop` after the note's
/// strike.
struct strike_track {
    seconds first_age;
    std::vector<double>
        log_level;  ///< ln of the fundamental, peak volts, never below the noise / 10
    std::vector<double> second, third;  ///< ln of harmonics 2 and 3 over the fundamental
    std::vector<band_values> bands;     ///< ln power of each band over the fundamental's
    std::vector<band_values> variance;  ///< of the above, from the noise
    std::vector<double> brightness_db;

    [[nodiscard]] std::size_t size() const noexcept { return log_level.size(); }
    [[nodiscard]] seconds last_age() const noexcept {
        return first_age + static_cast<double>(size() - 1) * strike_hop;
    }
};

/// Mean power of each harmonic line in silence, square volts.
[[nodiscard]] std::vector<double> noise_lines(const strike_case& c, const cycle_plan& plan);

[[nodiscard]] strike_track track_note(std::span<const double> volts, const strike_case& c,
                                      const pitch_line& pitch, const cycle_plan& plan,
                                      std::span<const double> noise, seconds first_age,
                                      seconds last_age);

/// Pitch of the step against time: the best of several glides, then corrected by the fundamental's
/// phase.
[[nodiscard]] pitch_line follow_step(const strike_case& c, hertz from, hertz to,
                                     const cycle_plan& plan);

/// All three records on one clock: frame j of the step is `u_s[j]` after the step.
struct strike_tracks {
    strike_track from, to, step;
    std::vector<double> u_s;
    std::vector<double> blend;   ///< 0 at the old pitch, 1 at the new one, per frame
    std::vector<double> half_s;  ///< half of the window, per frame
    std::size_t first_after;     ///< first frame whose window lies past the step
    seconds wait;
    double octaves;   ///< size of the step, without its sign
    double noise_v2;  ///< noise power in the fundamental's line
};

[[nodiscard]] outcome<strike_tracks> track_strike(const strike_case& c);

}  // namespace cvrig::analysis
