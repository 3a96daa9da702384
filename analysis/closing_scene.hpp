#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "analysis/closing_filter.hpp"

/// What a closing filter is heard by: levels of harmonics at moments (inside of
/// measure_closing_filter).
namespace cvrig::analysis::closing_fit {

struct point {
    double t_s;
    double frequency;  ///< over the unit frequency
    double nepers;     ///< level over that at the source
    double u;
};

struct scene {
    std::vector<point> points;
    double node_s{0.0};  ///< of the quadrature over a window
    double unit_hz{1.0};
    double span_s{0.0};
    std::size_t moments{0};
    /// Of a filter made by the bilinear transform, exact at its pole; frequencies are stretched then.
    struct bilinear {
        double rate_hz, resting_pole_hz;
    };
    std::optional<bilinear> digital{};
    std::optional<known_rest> rest{};

    /// Enough moments and points for a fit.
    [[nodiscard]] bool says_enough() const;
};

/// The points of `s` in the order of time, with its moments and its span counted anew.
[[nodiscard]] scene counted(scene s);

/// What stands out of noise and is not too deep to be heard of each moment.
[[nodiscard]] scene scene_of(std::span<const heard_harmonics> moments,
                             std::span<const double> source, const closing_filter_request& request);

}  // namespace cvrig::analysis::closing_fit
