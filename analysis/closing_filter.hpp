#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "analysis/cutoff.hpp"
#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// How a filter closes through a struck note, from all its harmonics at all moments together.
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
    /// Of the half-power cutoff as it is heard, bent or not; and the correlation of its logarithm with
    /// `opened`.
    seconds time_constant_heard;
    double correlation{0.0};
    octaves resting;
    octaves u_resting;
    double misfit_ratio{0.0};  ///< rms of the residuals over what they should be

    /// How far it is still open.
    [[nodiscard]] octaves still_open(seconds at) const noexcept {
        return opened * std::exp(-(at / time_constant_heard));
    }
    /// Standard uncertainty of that, by what the fit leaves open.
    [[nodiscard]] octaves u_still_open(seconds at) const noexcept {
        const double by_opened = u_opened / opened;
        const double by_constant = at / time_constant_heard * (u_time_constant / time_constant);
        const double variance = by_opened * by_opened + by_constant * by_constant +
                                2.0 * correlation * by_opened * by_constant;
        return std::sqrt(std::max(0.0, variance)) * still_open(at);
    }
};

/// Harmonics in one window of a note; the same numbers in every window.
struct heard_harmonics {
    seconds at;  ///< centre of the window, since the strike
    std::vector<harmonic_level> levels;
};

/// Where a filter is known to close to: its half-power cutoff, above 1 Hz.
struct known_rest {
    octaves cutoff, u;
};

struct closing_filter_request {
    hertz pitch;
    /// Standard deviation of the weights of the window that the levels come from; 0 = a moment.
    seconds window_deviation;
    /// Relative standard uncertainty of each harmonic's level at a moment; and of its level at the
    /// source, which is the same at all moments.
    double relative_u_moment{0.005}, relative_u_harmonic{0.002};
    /// For a note that ends long before its filter has closed.
    std::optional<known_rest> rest{};
};

struct closing_filter_reading {
    closing_reading closing;  ///< its resting cutoff is the half-power one, as in measure_cutoff
    seconds u_source;         ///< of the time constant, from `relative_u_harmonic`
    /// Of the time constant, from how far a filter made by the bilinear transform, as a digital one is,
    /// bends the frequencies.
    seconds u_digital;
    std::vector<cutoff_point> course;  ///< half-power cutoff at each moment by itself
    std::size_t harmonics_used{0};     ///< of all moments together
};

/// Time constant of a filter that closes while a note decays.
///
/// Definition: harmonic k at the time t has the level of the source, times exp(g0 + g1 t), times the
///             gain of an all-pole low-pass of order 4 or less at k pitch, whose cutoff is resting +
///             opened exp(-t / time constant) octaves. The filter keeps its shape (order,
///             resonance) while it moves: it is found once, from everything that is heard. Least
///             squares of the logarithms, the levels averaged over the window (three
///             nodes, exact to the fourth moment of a normal law), less what a window loses since the
///             phase of a harmonic turns while the filter moves.
///             A filter made by the bilinear transform bends the frequencies; how far is read from the
///             harmonics, too.
/// Source:     1/|H|^2 of an all-pole low-pass is a polynomial in the square of frequency (standard
///             mathematics); its phase is that of the poles in the left
///             half-plane; quadrature: Abramowitz and Stegun, 25.4.46, n = 3; bilinear transform: tan(pi f / rate)
///             for pi f / rate (standard mathematics).
/// Input:      levels of 3 or more harmonics that stand out by 20 dB, at 8 or more moments; those
///             of the same harmonics at the source, in any unit.
/// Error:      0.3 % rms of the time constant for four poles behind notes of 130 Hz that close by 1.5
///             to 3 octaves with 0.1 to 0.2 s (scripts/coverage). The filter follows its cutoff with
///             some delay of its own, about 1 / (2 pi resting cutoff), that is no part of
///             `u_time_constant`. A source whose high harmonics are weaker than told makes the time
///             constant longer: leave out what lies above some kilohertz.
/// Refuses:    bad_argument, not_finite, too_short (fewer moments or harmonics), no_fit (no such
///             filter: the residuals are above 10 times what they may be; it does not close by 5
///             times its uncertainty; the time constant stays more uncertain than half of itself; or
///             it cannot be found again in what a digital filter would make of it).
[[nodiscard]] outcome<closing_filter_reading> measure_closing_filter(
    std::span<const heard_harmonics> moments, std::span<const double> source_volts,
    const closing_filter_request& request);

}  // namespace cvrig::analysis
