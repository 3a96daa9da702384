#pragma once

#include <optional>
#include <vector>

#include "analysis/strike_tracks.hpp"

/// The two judgements that `judge_strike` is made of; each takes the tracks and knows nothing of
/// the other.
namespace cvrig::analysis {

/// Where an age falls in a track.
struct track_place {
    std::size_t i;
    double f;
    bool inside;
};
[[nodiscard]] track_place place_of(const strike_track& track, double age_s) noexcept;

/// Frames of the step between which the judgement is made.
struct frame_range {
    std::size_t first, last;
};

/// One record's level as the filter's pull leaves it.
struct lean_track {
    std::vector<double> level;  ///< ln of the level at frequency 0
    std::vector<double> pull;   ///< what was added to the fundamental's
    std::vector<double> doubt;  ///< what the harmonic after next would have added less
};

struct lean_levels {
    lean by;
    lean_track from, to, step;
};
[[nodiscard]] lean_levels lean_on_harmonics(const strike_tracks& t);

struct amplitude_judgement {
    odds verdict;
    std::optional<refusal> refused;
    double depth, u_depth, contrast;
    seconds delay;
};
[[nodiscard]] amplitude_judgement judge_amplitude(const strike_tracks& t);

struct filter_judgement {
    odds verdict;
    std::optional<refusal> refused;
    double depth, contrast;
};
[[nodiscard]] filter_judgement judge_filter(const strike_tracks& t);

/// Likelihoods to odds; 0.1 % of each verdict is mixed in, since no model covers every fault.
[[nodiscard]] odds to_odds(double went_on, double struck, double partial) noexcept;

inline constexpr odds even_odds{1.0 / 3, 1.0 / 3, 1.0 / 3};

}  // namespace cvrig::analysis
