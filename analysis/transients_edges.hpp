#pragma once

#include <cstddef>
#include <span>
#include <vector>

/// Which sudden changes belong to a periodic wave. Internal to transients.hpp.
namespace cvrig::analysis {

/// A peak of abruptness.
struct sharp_peak {
    std::size_t sample{0};
    double at_samples{0.0};
    double size_v{0.0};
    bool rising{false};  ///< the sign of a step there
};

struct period_marks {
    std::vector<double> at_samples;  ///< of the edge that marks each period, ascending
    std::vector<double> size_v;      ///< of the same edges
};

/// How far an edge reaches: to the next larger one of its sign, and to whatever is its own tail.
struct edge_reach {
    double next_samples;
    double tail_samples;
    double longest_period_samples;  ///< what lies further apart makes no train
};

/// The edges that mark the periods of a wave: the largest of one sign within reach, like their
/// neighbours in size and distance. Peaks that look like one but come out of turn are left out.
[[nodiscard]] period_marks mark_periods(std::span<const sharp_peak> peaks, const edge_reach& reach);

/// What a peak may be compared with: the places of the periods before and behind that answer to
/// its own, by phase and by distance from the marks on either side. Empty where no period is.
struct like_place {
    double at_samples;
    double reach_samples;  ///< how well that place is known
};
struct like_place_list {
    std::vector<like_place> places;
    /// In the middle of a train of even periods. If not, a wave that begins, jumps or slides fast
    /// may differ a little from period to period.
    bool is_steady{false};
    /// Whether the edges around are about as large as each other, too. If not, those of the period
    /// before do not tell how much one rings.
    bool is_as_loud{false};
};
[[nodiscard]] like_place_list like_places(const period_marks& marks, double at_samples);

}  // namespace cvrig::analysis
