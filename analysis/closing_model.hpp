#pragma once

#include <array>
#include <cmath>
#include <complex>
#include <limits>
#include <optional>
#include <span>
#include <vector>

#include "analysis/closing_scene.hpp"
#include "analysis/fit.hpp"

/// What a filter that closes exponentially leaves of a harmonic: the model that is fitted (inside of
/// measure_closing_filter).
namespace cvrig::analysis::closing_fit {

/// Where the parameters stand; those of the polynomial 1 + q1 z + ... follow.
enum place : std::size_t { ln_gain, gain_slope, opened, ln_tau, first_q };

/// Polynomial 1 + q1 z + ... and its derivative.
struct value_and_slope {
    double value, slope;
};

[[nodiscard]] value_and_slope polynomial(std::span<const double> q, double z);

/// By how much a frequency counts more in a filter made by the bilinear transform.
[[nodiscard]] double stretched(double hz, double rate_hz);

/// What a frequency is multiplied with for a filter that is so far open, so that the polynomial at
/// rest holds.
[[nodiscard]] double closing_factor(const scene& s, double open_octaves);

/// The filter's gain at one frequency, with its logarithm's derivative by octaves of cutoff.
struct gain_here {
    double gain, by_octave, z, value;
};

[[nodiscard]] gain_here gain_at(std::span<const double> p, double frequency_at_rest);

/// The nodes of the quadrature over the window about a moment, which all its harmonics share.
struct window_nodes {
    double about_s{std::numeric_limits<double>::quiet_NaN()};
    std::array<double, 3> t_s{}, left{}, closing{};
};

/// Those of one moment after the other.
class moment_nodes {
public:
    moment_nodes(const scene& s, std::span<const double> p)
        : scene_{s}, opened_{p[opened]}, tau_s_{std::exp(p[ln_tau])} {}

    const window_nodes& about(double t_s);

private:
    const scene& scene_;
    double opened_, tau_s_;
    window_nodes now_;
};

/// The mean gain over a window about a point; adds its derivatives, over u, to `row` if there is one.
[[nodiscard]] double mean_nepers(const window_nodes& nodes, std::span<const double> p,
                                 const point& at, double* row);

/// The largest z at which the gain has fallen to half in power.
[[nodiscard]] std::optional<double> half_power(std::span<const double> q);

/// Where the filter rests, in the place of one more point; with its derivatives, over u, if there is a
/// row for them.
[[nodiscard]] double off_known_rest(const scene& s, std::span<const double> p, double* row);

/// Poles of the all-pole low-pass of least phase whose gain is 1 / sqrt(1 + q1 z + ...): (1 + i f / pole) for
/// each of them, with z = f^2.
[[nodiscard]] std::vector<std::complex<double>> poles_of(std::span<const double> q);

/// Its levels without what windows hear less since the phase of a harmonic turns while the filter moves.
[[nodiscard]] scene heard_in_phase(scene s, const nonlinear_fit& fit);

}  // namespace cvrig::analysis::closing_fit
