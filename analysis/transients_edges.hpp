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
};

/// The edges that mark the periods of a wave: the largest of one sign within `reach_samples`, like
/// their neighbours in size and distance. Peaks that look like one but come out of turn are left
/// out.
[[nodiscard]] period_marks mark_periods(std::span<const sharp_peak> peaks, double reach_samples);

/// What a peak may be compared with: the places of the periods before and behind that answer to
/// its own, by phase and by distance from the marks on either side. Empty where no period is.
struct like_place {
    double at_samples;
    double period_samples;
};
[[nodiscard]] std::vector<like_place> like_places(const period_marks& marks, double at_samples);

}  // namespace cvrig::analysis
