#include "analysis/zipper.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <vector>

#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

constexpr double pi = std::numbers::pi;
constexpr Eigen::Index degree = 7;
constexpr double chance = 1e-4;
constexpr double steps_per_bin = 4.0;
// Rates around a line whose median power is its noise: clear of its own main lobe.
// Without the steps, nearer ones will do, and are better where noise grows with the rate.
constexpr double near_bins = 4.0, far_bins = 40.0, far_bins_of_rest = 20.0;
// What stays unknown of the height of a step: the leakage of the sawtooth's other lines and of the
// trend; and a share of what the course's own window took away, since a moving pitch changes it.
constexpr double u_shape_share = 0.0004, u_seen_share = 0.008;
// And of the rate, in bins.
constexpr double u_rate_bins = 0.0004;

using values = Eigen::VectorXd;

// Chebyshev polynomials, which leave the normal equations well conditioned.
values without_trend(const values& y) {
    const auto n = y.size();
    Eigen::MatrixXd basis(n, degree + 1);
    for (Eigen::Index i = 0; i < n; ++i) {
        const double x = 2.0 * static_cast<double>(i) / static_cast<double>(n - 1) - 1.0;
        basis(i, 0) = 1.0;
        basis(i, 1) = x;
        for (Eigen::Index k = 2; k <= degree; ++k)
            basis(i, k) = 2.0 * x * basis(i, k - 1) - basis(i, k - 2);
    }
    const Eigen::VectorXd fit = (basis.transpose() * basis).ldlt().solve(basis.transpose() * y);
    return y - basis * fit;
}

struct line_search {
    std::vector<double> rates_hz, power;
};

double power_at(const values& windowed, double turns_per_value) {
    const auto turn = std::polar(1.0, -2.0 * pi * turns_per_value);
    std::complex<double> sum{0.0, 0.0};
    // Horner's rule, from the end: one multiplication a value.
    for (Eigen::Index i = windowed.size(); i-- > 0;) sum = sum * turn + windowed[i];
    return std::norm(sum);
}

// The square of each line's amplitude.
line_search search(const values& y, seconds spacing, const zipper_request& request) {
    const auto n = y.size();
    values windowed(n);
    double weight = 0.0;
    for (Eigen::Index i = 0; i < n; ++i) {
        const double w =
            1.0 - std::cos(2.0 * pi * (static_cast<double>(i) + 0.5) / static_cast<double>(n));
        windowed[i] = w * y[i];
        weight += w;
    }
    const double bin_hz = 1.0 / (spacing.value() * static_cast<double>(n));
    line_search out;
    for (double rate = request.lowest.value(); rate <= request.highest.value();
         rate += bin_hz / steps_per_bin) {
        out.rates_hz.push_back(rate);
        out.power.push_back(power_at(windowed, rate * spacing.value()) * 4.0 / (weight * weight));
    }
    return out;
}

// The top of a line between the rates that were searched: a parabola through the logarithms of three
// powers, which of the main lobe of a Hann window errs by less than 0.1 % of the amplitude.
struct line_top {
    double shift;  // of its rate, in steps of the search
    double power;
};

line_top line_at(const line_search& found, std::size_t top) {
    if (top == 0 || top + 1 >= found.power.size() || !(found.power[top - 1] > 0.0) ||
        !(found.power[top + 1] > 0.0))
        return {0.0, found.power[top]};
    const double left = std::log(found.power[top - 1]);
    const double middle = std::log(found.power[top]);
    const double right = std::log(found.power[top + 1]);
    const double bend = left - 2.0 * middle + right;
    if (!(bend < 0.0)) return {0.0, found.power[top]};
    const double shift = 0.5 * (left - right) / bend;
    return {shift, std::exp(middle - 0.25 * (left - right) * shift)};
}

double median(std::vector<double> x) {
    const auto middle = x.begin() + static_cast<std::ptrdiff_t>(x.size() / 2);
    std::ranges::nth_element(x, middle);
    return *middle;
}

struct noise_power {
    double mean{0.0};
    double estimates{1.0};  ///< as many independent powers would tell the mean as well
};

// Mean power of noise about a line. Lines under a Hann window are independent every 1.5 bins; the
// median of exponential values tells their mean as well as ln(2)^2 times as many would.
noise_power noise_around(const line_search& found, std::size_t top, double farthest_bins) {
    std::vector<double> around;
    for (std::size_t i = 0; i < found.power.size(); ++i) {
        const double bins =
            std::abs(static_cast<double>(i) - static_cast<double>(top)) / steps_per_bin;
        if (bins >= near_bins && bins <= farthest_bins) around.push_back(found.power[i]);
    }
    if (around.empty()) return {};
    const double ln2 = std::log(2.0);
    const double independent = static_cast<double>(around.size()) / steps_per_bin / 1.5;
    return {median(std::move(around)) / ln2, std::max(1.0, ln2 * ln2 * independent)};
}

// The power over which the largest of `lines` comes with the chance p, when its mean is itself an
// estimate: (1 + x / n)^-n in place of exp(-x).
double needed_power(const noise_power& noise, double lines) {
    const double n = noise.estimates;
    return noise.mean * n * (std::pow(std::max(lines, 2.0) / chance, 1.0 / n) - 1.0);
}

// How much of a line at `rate` is left when every value is a mean under a Hann window.
double seen_through(seconds window, double rate_hz) {
    const double x = window.value() * rate_hz;
    if (x < 1e-6) return 1.0;
    if (std::abs(x - 1.0) < 1e-6) return 0.5;
    return std::sin(pi * x) / (pi * x) / (1.0 - x * x);
}

double seen_through_mean(seconds window, double rate_hz) {
    const double x = pi * window.value() * rate_hz;
    return x < 1e-6 ? 1.0 : std::sin(x) / x;
}

// How much of a line of the steps each value of the course shows.
double seen_by(const zipper_request& request, double rate_hz) {
    return seen_through(request.window, rate_hz) * seen_through_mean(request.flat_window, rate_hz);
}

// The amplitude of the line at `rate` under the Hann window, with its phase at the first value.
std::complex<double> phasor_at(const values& y, seconds spacing, double rate_hz) {
    const auto n = y.size();
    std::complex<double> sum{0.0, 0.0};
    double weight = 0.0;
    for (Eigen::Index i = 0; i < n; ++i) {
        const double w =
            1.0 - std::cos(2.0 * pi * (static_cast<double>(i) + 0.5) / static_cast<double>(n));
        sum += w * y[i] *
               std::polar(1.0, -2.0 * pi * rate_hz * spacing.value() * static_cast<double>(i));
        weight += w;
    }
    return 2.0 / weight * sum;
}

// What is left without steps that go up (or down). Of steps up, line m has the phase m (p + pi / 2) -
// pi / 2 if the first has p.
values without(const values& y, seconds spacing, const zipper_request& request, double rate_hz,
               double up) {
    const auto first = phasor_at(y, spacing, rate_hz);
    const double size = std::abs(first) / std::max(seen_by(request, rate_hz), 1e-9);
    const double turn = std::arg(first) + 0.5 * pi * up;
    constexpr double highest_turns = 1.5;  // per value: beyond, windows leave nothing
    values left = y;
    for (int m = 1; m * rate_hz * spacing.value() < highest_turns; ++m) {
        const double level = size / m * seen_by(request, m * rate_hz);
        for (Eigen::Index i = 0; i < y.size(); ++i) {
            const double turned = 2.0 * pi * rate_hz * spacing.value() * static_cast<double>(i);
            left[i] -= level * std::cos(m * (turned + turn) - 0.5 * pi * up);
        }
    }
    return left;
}

struct steps_apart {
    values rest;  ///< without the steps, whose other lines and sidelobes are no noise
    double up;    ///< 1 if they go up, -1 if down
};

steps_apart take_steps_off(const values& y, seconds spacing, const zipper_request& request,
                           double rate_hz) {
    values up = without(y, spacing, request, rate_hz, 1.0);
    values down = without(y, spacing, request, rate_hz, -1.0);
    if (up.squaredNorm() < down.squaredNorm()) return {std::move(up), 1.0};
    return {std::move(down), -1.0};
}

// How much of the line the sawtooth's other lines fold onto it, which their number beside the rate of
// the values decides: two of them, at random phases.
double folded_share(seconds spacing, const zipper_request& request, double rate_hz) {
    const double values_per_s = 1.0 / spacing.value();
    const double other_hz = values_per_s - rate_hz;
    return std::sqrt(2.0) * std::abs(seen_by(request, other_hz)) * rate_hz / values_per_s;
}

}  // namespace

outcome<zipper_reading> find_zipper(std::span<const double> course, seconds spacing,
                                    const zipper_request& request) {
    const double span_s = spacing.value() * static_cast<double>(course.size());
    if (!(spacing.value() > 0.0) || !(request.lowest.value() > 0.0) ||
        !(request.highest > request.lowest) || !(request.window.value() >= 0.0) ||
        request.highest.value() * spacing.value() > 0.5)
        return refuse(refusal::bad_argument);
    if (course.size() < 64 || span_s * request.lowest.value() < 5.0)
        return refuse(refusal::too_short);
    if (!all_finite(course)) return refuse(refusal::not_finite);

    const values y = without_trend(
        Eigen::Map<const values>(course.data(), static_cast<Eigen::Index>(course.size())));
    const auto found = search(y, spacing, request);
    const auto top =
        static_cast<std::size_t>(std::ranges::max_element(found.power) - found.power.begin());
    const auto noise = noise_around(found, top, far_bins);
    const double independent = (request.highest - request.lowest).value() * span_s;
    const double needed = needed_power(noise, independent);
    const auto line = line_at(found, top);
    const double grid_hz = 1.0 / span_s / steps_per_bin;
    const double rate_hz = found.rates_hz[top] + line.shift * grid_hz;
    const double amplitude = std::sqrt(line.power);
    const double seen = seen_by(request, found.rates_hz[top]);
    const auto apart = take_steps_off(y, spacing, request, rate_hz);
    const auto rest = search(apart.rest, spacing, request);
    const double u_amplitude = std::sqrt(0.5 * noise_around(rest, top, far_bins_of_rest).mean);

    zipper_reading out;
    out.stands_out = found.power[top] > needed && amplitude > 1e-12;
    out.step = pi * amplitude / seen;
    out.u_step = std::hypot(pi * u_amplitude / seen, u_shape_share * out.step,
                            std::hypot(u_seen_share * (1.0 - seen),
                                       folded_share(spacing, request, found.rates_hz[top])) *
                                out.step);
    out.bound = pi * std::sqrt(needed) / seen;
    out.rate = hertz{rate_hz};
    const double phase = std::arg(phasor_at(y, spacing, rate_hz)) + 0.5 * pi * apart.up;
    out.first_step = seconds{-phase / (2.0 * pi) / rate_hz};
    // Rife and Boorstyn's bound is sqrt(3) / pi * (u / A) / T, u that of the amplitude, with a flat
    // window. With weights w the deviation is sqrt(sum w^2 t^2) / sum w t^2: with a Hann window, whose
    // amplitude is less certain by sqrt 1.5, 1.25 times as much for the same u.
    const double relative = amplitude > 0.0 ? u_amplitude / amplitude : 1.0;
    out.u_rate = hertz{std::hypot(1.25 * std::sqrt(3.0) / pi * relative, u_rate_bins) / span_s};
    return out;
}

}  // namespace cvrig::analysis
