#pragma once

#include <optional>
#include <span>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// The way of a filter's cutoff through a struck note.
namespace cvrig::analysis {

/// The cutoff at one moment, in octaves above 1 Hz.
struct cutoff_point {
    seconds at;
    octaves cutoff;
    octaves u_cutoff;
};

struct closing_reading {
    seconds time_constant;
    seconds u_time_constant;
    octaves opened;  ///< above the resting cutoff, at the time 0
    octaves u_opened;
    octaves resting;
    octaves u_resting;
    double misfit_ratio{0.0};  ///< rms of the residuals over what they should be

    /// How far it is still open.
    [[nodiscard]] octaves still_open(seconds at) const noexcept;
};

/// Time constant of a filter that closes.
///
/// Definition: cutoff(t) = resting + opened exp(-t / time constant), in octaves: what an RC does to
///             a filter that is exponential in volts. Weighted least squares.
/// Source:     step response of the first order (standard mathematics): 63.2 % of the way after one
///             time constant.
/// Input:      6 or more points; where the resting cutoff is known otherwise (`resting`, with its
///             uncertainty in `cutoff_point::u_cutoff`), the points need not reach it.
/// Error:      u from the points' own, widened by the residuals; a window that is short against the
///             time constant only scales `opened`.
/// Refuses:    too_short (fewer points, or all within 5 ms), not_finite, bad_argument (u not above
///             0), no_fit (opens by less than 5 times its uncertainty, or not falling).
[[nodiscard]] outcome<closing_reading> measure_closing(std::span<const cutoff_point> course,
                                                       std::optional<cutoff_point> resting = {});

}  // namespace cvrig::analysis
