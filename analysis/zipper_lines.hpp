#pragma once

#include <Eigen/Dense>
#include <complex>
#include <cstddef>
#include <vector>

#include "analysis/units.hpp"
#include "analysis/zipper.hpp"

/// The lines in the spectrum of a course, for find_zipper.
namespace cvrig::analysis {

using course_values = Eigen::VectorXd;

/// Powers (squares of a line's amplitude) under a Hann window, at even distances in rate.
struct line_search {
    double lowest_hz{0.0}, grid_hz{0.0}, bin_hz{0.0};
    std::vector<double> power;

    [[nodiscard]] double rate_hz(double place) const noexcept {
        return lowest_hz + grid_hz * place;
    }
};

[[nodiscard]] line_search search_lines(const course_values& y, seconds spacing,
                                       const zipper_request& request);

/// The rate of a line's top near a rate.
///
/// Definition: the largest power under a Hann window, by parabolas through the logarithms of three.
/// Error:      below 0.0001 bins for one line without noise.
[[nodiscard]] double top_rate_hz(const course_values& y, seconds spacing, double about_hz,
                                 double bin_hz);

struct noise_power {
    double mean{0.0};
    double estimates{1.0};  ///< as many independent powers would tell the mean as well
};

/// Mean power of noise about a line.
///
/// Definition: median of the powers from 4 bins beside it on, over ln 2. Lines under a Hann window are
///             independent every 1.5 bins; the median of exponential values tells their mean as well
///             as ln(2)^2 times as many would.
[[nodiscard]] noise_power noise_around(const line_search& found, std::size_t top,
                                       double farthest_bins);

/// Mean power about a line, from 4 bins beside it on: of what is no noise alone (its powers scatter more than
/// exponential ones) the median tells too little.
[[nodiscard]] double mean_power_around(const line_search& found, std::size_t top,
                                       double farthest_bins);

/// The power over which the largest of `lines` comes with the chance 1e-4, when its mean is itself an
/// estimate of n powers: (1 + x / n)^-n in place of exp(-x).
[[nodiscard]] double needed_power(const noise_power& noise, double lines);

/// The largest power elsewhere: neither of the line itself nor of a multiple of its rate.
[[nodiscard]] double largest_beside(const line_search& found, double rate_hz);

/// The amplitude of the line at a rate under the Hann window, with its phase at the first value.
[[nodiscard]] std::complex<double> line_phasor(const course_values& y, seconds spacing,
                                               double rate_hz);

}  // namespace cvrig::analysis
