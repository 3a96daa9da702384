#include "analysis/zipper.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "analysis/chebyshev.hpp"
#include "analysis/hann.hpp"
#include "analysis/samples.hpp"
#include "analysis/zipper_lines.hpp"

namespace cvrig::analysis {
namespace {

constexpr double pi = std::numbers::pi;
constexpr Eigen::Index terms = 8;
// How far the rates reach whose median power is a line's noise. Without the steps, nearer ones will
// do, and are better where noise grows with the rate.
constexpr double far_bins = 40.0, far_bins_of_rest = 20.0;
// What stays unknown of the height of a step: the leakage of the trend; and a share of what the
// course's own window took away, since a moving pitch changes it.
constexpr double u_shape_share = 0.0004, u_seen_share = 0.008;
// Periods of a line in its windows up to which enough of it is left (0.17 and 0.30).
constexpr double most_in_window = 1.5, most_in_flat_window = 0.75;

course_values without_trend(const course_values& y) {
    const auto n = y.size();
    Eigen::Matrix<double, Eigen::Dynamic, terms, Eigen::RowMajor> basis(n, terms);
    for (Eigen::Index i = 0; i < n; ++i)
        chebyshev(chebyshev_place(static_cast<double>(i), static_cast<double>(n)),
                  {basis.row(i).data(), static_cast<std::size_t>(terms)});
    const Eigen::VectorXd fit = (basis.transpose() * basis).ldlt().solve(basis.transpose() * y);
    return y - basis * fit;
}

double seen_through_mean(seconds window, double rate_hz) {
    const double x = pi * window.value() * rate_hz;
    return x < 1e-6 ? 1.0 : std::sin(x) / x;
}

// How much of a line of the steps each value of the course shows; below 0 where its sign turns.
double seen_by(const zipper_request& request, double rate_hz) {
    return hann_response(request.window.value() * rate_hz) *
           seen_through_mean(request.flat_window, rate_hz);
}

/// One line of the steps, and how it was found.
struct steps_line {
    std::complex<double> phasor;
    double rate_hz;
};

constexpr double highest_turns = 1.5;  // per value: beyond, windows leave nothing

// What is left without steps that go up (or down). Of steps up, line m has the phase m (p + pi / 2) -
// pi / 2 if the first has p.
course_values without(const course_values& y, seconds spacing, const zipper_request& request,
                      const steps_line& first, double up) {
    const double size = std::abs(first.phasor) / seen_by(request, first.rate_hz);
    const double turn = std::arg(first.phasor) + 0.5 * pi * up;
    course_values left = y;
    for (int m = 1; m * first.rate_hz * spacing.value() < highest_turns; ++m) {
        const double level = size / m * seen_by(request, m * first.rate_hz);
        for (Eigen::Index i = 0; i < y.size(); ++i) {
            const double turned =
                2.0 * pi * first.rate_hz * spacing.value() * static_cast<double>(i);
            left[i] -= level * std::cos(m * (turned + turn) - 0.5 * pi * up);
        }
    }
    return left;
}

struct steps_apart {
    course_values rest;  ///< without the steps, whose other lines and sidelobes are no noise
    double up;           ///< 1 if they go up, -1 if down
};

steps_apart take_steps_off(const course_values& y, seconds spacing, const zipper_request& request,
                           const steps_line& first) {
    auto up = without(y, spacing, request, first, 1.0);
    auto down = without(y, spacing, request, first, -1.0);
    if (up.squaredNorm() < down.squaredNorm()) return {std::move(up), 1.0};
    return {std::move(down), -1.0};
}

// What the sawtooth's other lines, at random phases, do to the amplitude of its first, rms.
// The other lines stand at multiples of the rate and, beyond half the rate of the values, where that
// folds them to; each leaks as far as it lies from the first.
double by_other_lines(seconds spacing, const zipper_request& request, double rate_hz,
                      double span_s) {
    double share = 0.0;
    for (int m = 2; m * rate_hz * spacing.value() < highest_turns; ++m) {
        const double turns = m * rate_hz * spacing.value();
        const double folded_hz = std::abs(turns - std::round(turns)) / spacing.value();
        const double level = seen_by(request, m * rate_hz) / seen_by(request, rate_hz) / m;
        const double leak = hann_response((folded_hz - rate_hz) * span_s);
        share = std::hypot(share, std::sqrt(0.5) * level * leak);
    }
    return share;
}

// Where a step falls between two values has an effect, too, that is not in those lines: edges in the windows of
// a moving pitch, seen through noiseless simulated voices. It is bounded (type B) by the two lines nearest to
// the rate of the values, each with a random phase, so that two of the amplitude a are an error of a. Above some
// 115 steps a second that is too careful by a half.
double between_values(seconds spacing, const zipper_request& request, double rate_hz) {
    const double other_hz = 1.0 / spacing.value() - rate_hz;
    return std::abs(seen_by(request, other_hz) / seen_by(request, rate_hz)) * rate_hz / other_hz;
}

bool makes_sense(seconds spacing, const zipper_request& request) {
    const double highest_hz = request.highest.value();
    return spacing.value() > 0.0 && request.lowest.value() > 0.0 &&
           request.highest > request.lowest && request.window.value() >= 0.0 &&
           request.flat_window.value() >= 0.0 && highest_hz * spacing.value() <= 0.5 &&
           highest_hz * request.window.value() <= most_in_window &&
           highest_hz * request.flat_window.value() <= most_in_flat_window;
}

// The time of a step is where the sawtooth's first line has a quarter of a turn left (or behind it).
seconds first_step_of(const steps_line& line, double up) {
    const double turns = -(std::arg(line.phasor) + 0.5 * pi * up) / (2.0 * pi);
    return seconds{(turns - std::floor(turns)) / line.rate_hz};
}

}  // namespace

outcome<zipper_reading> find_zipper(std::span<const double> course, seconds spacing,
                                    const zipper_request& request) {
    if (!makes_sense(spacing, request)) return refuse(refusal::bad_argument);
    const double span_s = spacing.value() * static_cast<double>(course.size());
    if (course.size() < 64 || span_s * request.lowest.value() < 5.0)
        return refuse(refusal::too_short);
    if (!all_finite(course)) return refuse(refusal::not_finite);

    const auto y = without_trend(
        Eigen::Map<const course_values>(course.data(), static_cast<Eigen::Index>(course.size())));
    const auto found = search_lines(y, spacing, request);
    const auto top =
        static_cast<std::size_t>(std::ranges::max_element(found.power) - found.power.begin());
    const double independent = (request.highest - request.lowest).value() * span_s;
    const double needed = needed_power(noise_around(found, top, far_bins), independent);
    const double rate_hz =
        top_rate_hz(y, spacing, found.rate_hz(static_cast<double>(top)), found.bin_hz);
    const steps_line line{line_phasor(y, spacing, rate_hz), rate_hz};
    const double amplitude = std::abs(line.phasor);
    const double seen = seen_by(request, rate_hz);
    const auto apart = take_steps_off(y, spacing, request, line);
    const auto rest = search_lines(apart.rest, spacing, request);
    const double u_amplitude = std::sqrt(0.5 * noise_around(rest, top, far_bins_of_rest).mean);
    const double others = std::hypot(by_other_lines(spacing, request, rate_hz, span_s),
                                     between_values(spacing, request, rate_hz));
    const double rival = largest_beside(found, rate_hz);

    zipper_reading out;
    out.stands_out = found.power[top] > needed && amplitude > 1e-12;
    out.step = pi * amplitude / seen;
    out.u_step = std::hypot(pi * u_amplitude / seen, u_shape_share * out.step,
                            std::hypot(u_seen_share * (1.0 - seen), others) * out.step);
    out.bound = pi * std::sqrt(needed) / seen;
    out.rival_share = rival > needed && amplitude > 0.0 ? std::sqrt(rival) / amplitude : 0.0;
    out.rate = hertz{rate_hz};
    out.first_step = first_step_of(line, apart.up);
    // Rife and Boorstyn's bound is sqrt(3) / pi * (u / A) / T, u that of the amplitude, with a flat
    // window. With weights w the deviation is sqrt(sum w^2 t^2) / sum w t^2: with a Hann window, whose
    // amplitude is less certain by sqrt 1.5, 1.25 times as much for the same u.
    const double relative = amplitude > 0.0 ? u_amplitude / amplitude : 1.0;
    out.u_rate = hertz{1.25 * std::sqrt(3.0) / pi * relative / span_s};
    return out;
}

}  // namespace cvrig::analysis
