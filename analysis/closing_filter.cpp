#include "analysis/closing_filter.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <limits>
#include <map>
#include <numbers>

#include "analysis/fit.hpp"

namespace cvrig::analysis {
namespace {

constexpr std::size_t least_moments = 8;
constexpr std::size_t least_points = 24;
constexpr double standing_out = 10.0;       // over its uncertainty: 20 dB
constexpr double deep_enough = 1.0 / 40.0;  // 32 dB below the lowest
constexpr double worst_misfit = 10.0;
constexpr double clearly = 5.0;
constexpr double least_known = 0.5;  // u(tau) over tau
// A digital filter follows no analogue law far up: a cutoff near a tenth of the rate is no exponential
// any more, nor is the filter's shape the same. That far it is let in, or this far above rest, or as far
// as so many time constants need.
constexpr double analogue_below_hz = 1500.0;
constexpr double least_room_octaves = 1.5;
constexpr double least_time_constants = 1.2;
constexpr int highest_order = 4;
// Nobody says at which rate a filter runs. Of what 48 kHz would change, 96 kHz changes a quarter, the
// square of the ratio: between the two, the half-width over sqrt 3 (GUM 4.3.7).
constexpr double digital_share = 0.625, u_digital_share = 0.375 / std::numbers::sqrt3;

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

    [[nodiscard]] bool says_enough() const {
        return moments >= least_moments && points.size() >= least_points && span_s > 0.005;
    }
};

/// Where the parameters stand; those of the polynomial 1 + q1 z + ... follow.
enum place : std::size_t { ln_gain, gain_slope, opened, ln_tau, first_q };

/// Polynomial 1 + q1 z + ... and its derivative.
struct value_and_slope {
    double value, slope;
};

value_and_slope polynomial(std::span<const double> q, double z) {
    double value = 0.0, slope = 0.0;
    for (std::size_t j = q.size(); j-- > 0;) {
        slope = slope * z + static_cast<double>(j + 1) * q[j];
        value = (value + q[j]) * z;
    }
    return {1.0 + value, slope};
}

void collect(scene& s, const heard_harmonics& moment, std::span<const double> source,
             const closing_filter_request& request) {
    double lowest = 0.0;
    for (std::size_t i = 0; i < moment.levels.size(); ++i) {
        const auto& level = moment.levels[i];
        const double noise = level.u_peak / level.peak;
        if (!(noise * standing_out < 1.0)) continue;
        const double ratio = level.peak.value() / source[i];
        if (lowest == 0.0) lowest = ratio;
        if (ratio < deep_enough * lowest) continue;
        s.points.push_back({moment.at.value(),
                            static_cast<double>(level.number) * request.pitch.value() / s.unit_hz,
                            std::log(ratio), std::hypot(noise, request.relative_u_moment)});
    }
}

// The points in the order of time.
scene counted(scene s) {
    s.moments = 0;
    for (std::size_t i = 0; i < s.points.size(); ++i)
        if (i == 0 || s.points[i].t_s != s.points[i - 1].t_s) ++s.moments;
    s.span_s = s.points.empty() ? 0.0 : s.points.back().t_s - s.points.front().t_s;
    return s;
}

scene scene_of(std::span<const heard_harmonics> moments, std::span<const double> source,
               const closing_filter_request& request) {
    scene s;
    s.node_s = std::sqrt(3.0) * request.window_deviation.value();
    s.unit_hz = 4.0 * request.pitch.value();
    for (const auto& moment : moments) collect(s, moment, source, request);
    std::ranges::stable_sort(s.points, {}, &point::t_s);
    return counted(std::move(s));
}

/// A start: the polynomial that suits best if the filter closes so far, so fast.
struct start {
    std::vector<double> parameters;
    double rss{std::numeric_limits<double>::infinity()};
};

/// Squares of the points' frequencies, as a filter at rest would be asked for them.
std::vector<double> squares_at_rest(const scene& s, double opened_octaves, double tau_s) {
    std::vector<double> out;
    out.reserve(s.points.size());
    double t_s = std::numeric_limits<double>::quiet_NaN(), closing = 1.0;
    for (const auto& p : s.points) {
        if (p.t_s != t_s) {
            t_s = p.t_s;
            closing = std::exp2(-opened_octaves * std::exp(-t_s / tau_s));
        }
        out.push_back(p.frequency * closing * p.frequency * closing);
    }
    return out;
}

// c(z) L^2 = 1 with c = c0 (1 + q1 z + ...) is linear, and its residuals are twice those of the
// level in nepers, to first order.
start start_at(const scene& s, double opened_octaves, double tau_s, int order) {
    constexpr int most = highest_order + 1;
    using small_matrix =
        Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::ColMajor, most, most>;
    using small_vector = Eigen::Matrix<double, Eigen::Dynamic, 1, Eigen::ColMajor, most, 1>;
    const Eigen::Index columns = order + 1;
    small_matrix normal = small_matrix::Zero(columns, columns);
    small_vector right = small_vector::Zero(columns), row(columns);
    const auto z = squares_at_rest(s, opened_octaves, tau_s);
    for (std::size_t i = 0; i < z.size(); ++i) {
        const auto& p = s.points[i];
        double power = 0.5 / p.u * std::exp(2.0 * p.nepers);
        for (Eigen::Index j = 0; j < columns; ++j, power *= z[i]) row[j] = power;
        normal.noalias() += row * row.transpose();
        right += 0.5 / p.u * row;
    }
    const small_vector c = Eigen::LDLT<small_matrix>{normal}.solve(right);
    start out;
    if (!(c[0] > 0.0) || !c.allFinite()) return out;
    out.parameters = {-0.5 * std::log(c[0]), 0.0, opened_octaves, std::log(tau_s)};
    for (Eigen::Index j = 1; j < columns; ++j) out.parameters.push_back(c[j] / c[0]);
    double rss = 0.0;
    const std::span<const double> q{out.parameters.begin() + first_q, out.parameters.end()};
    for (std::size_t i = 0; i < z.size(); ++i) {
        const auto& p = s.points[i];
        const auto v = polynomial(q, z[i]);
        if (!(v.value > 0.0)) return start{};
        const double off = (out.parameters[ln_gain] - 0.5 * std::log(v.value) - p.nepers) / p.u;
        rss += off * off;
    }
    out.rss = rss;
    return out;
}

// Every third point is enough to start from.
start best_start(const scene& whole, int order) {
    scene s = whole;
    s.points.clear();
    for (std::size_t i = 0; i < whole.points.size(); i += 3) s.points.push_back(whole.points[i]);
    start best;
    for (double tau = 0.06 * s.span_s; tau < 3.0 * s.span_s; tau *= 1.5)
        for (double octaves = 0.5; octaves < 9.0; octaves *= 1.4) {
            auto next = start_at(s, octaves, tau, order);
            if (next.rss < best.rss) best = std::move(next);
        }
    return best;
}

// By how much a frequency counts more in a filter made by the bilinear transform.
double stretched(double hz, double rate_hz) {
    const double x = std::numbers::pi * std::min(hz / rate_hz, 0.45);
    return x > 0.0 ? std::tan(x) / x : 1.0;
}

/// What a frequency is multiplied with for a filter that is so far open, so that the polynomial at
/// rest holds.
double closing_factor(const scene& s, double open_octaves) {
    const double analogue = std::exp2(-open_octaves);
    if (!s.digital) return analogue;
    const double pole_hz = s.digital->resting_pole_hz;
    return analogue * stretched(pole_hz, s.digital->rate_hz) /
           stretched(pole_hz / analogue, s.digital->rate_hz);
}

/// The filter's gain at one frequency, with its logarithm's derivative by octaves of cutoff.
struct gain_here {
    double gain, by_octave, z, value;
};

gain_here gain_at(std::span<const double> p, double frequency_at_rest) {
    constexpr double nothing = 4.5e-5;  // 87 dB down
    const double z = frequency_at_rest * frequency_at_rest;
    const auto v = polynomial(p.subspan(first_q), z);
    if (!(v.value > 1e-9)) return {nothing, 0.0, z, 1.0};
    return {1.0 / std::sqrt(v.value), std::numbers::ln2 * z * v.slope / v.value, z, v.value};
}

constexpr std::array<double, 3> node_weights{1.0 / 6.0, 2.0 / 3.0, 1.0 / 6.0};

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

    const window_nodes& about(double t_s) {
        if (t_s == now_.about_s) return now_;
        now_.about_s = t_s;
        for (std::size_t i = 0; i < 3; ++i) {
            now_.t_s[i] = t_s + scene_.node_s * (static_cast<double>(i) - 1.0);
            now_.left[i] = std::exp(-now_.t_s[i] / tau_s_);
            now_.closing[i] = closing_factor(scene_, opened_ * now_.left[i]);
        }
        return now_;
    }

private:
    const scene& scene_;
    double opened_, tau_s_;
    window_nodes now_;
};

/// The mean gain over a window about a point; adds its derivatives, over u, to `row` if there is one.
double mean_nepers(const window_nodes& nodes, std::span<const double> p, const point& at,
                   double* row) {
    std::array<gain_here, 3> gains{};
    double sum = 0.0;
    for (std::size_t i = 0; i < 3; ++i) {
        gains[i] = gain_at(p, at.frequency * nodes.closing[i]);
        sum += node_weights[i] * gains[i].gain;
    }
    if (row != nullptr) {
        const double by_ln_tau = p[opened] / std::exp(p[ln_tau]);
        for (std::size_t i = 0; i < 3; ++i) {
            const double share = node_weights[i] * gains[i].gain / sum / at.u;
            row[opened] += share * gains[i].by_octave * nodes.left[i];
            row[ln_tau] += share * gains[i].by_octave * by_ln_tau * nodes.left[i] * nodes.t_s[i];
            double power = -0.5 * share / gains[i].value;
            for (std::size_t j = first_q; j < p.size(); ++j) row[j] += power *= gains[i].z;
        }
        row[ln_gain] = 1.0 / at.u;
        row[gain_slope] = at.t_s / at.u;
    }
    return p[ln_gain] + p[gain_slope] * at.t_s + std::log(sum);
}

/// The largest z at which the gain has fallen to half in power.
std::optional<double> half_power(std::span<const double> q) {
    double above = 1e6;
    constexpr double finer = 0.97;
    while (above > 1e-9 && !(polynomial(q, above * finer).value < 2.0)) above *= finer;
    if (above <= 1e-9) return std::nullopt;
    double below = above * finer;
    for (int i = 0; i < 50; ++i) {
        const double middle = 0.5 * (above + below);
        (polynomial(q, middle).value < 2.0 ? below : above) = middle;
    }
    return 0.5 * (above + below);
}

/// Where the filter rests, in the place of one more point; with its derivatives, over u, if there is a
/// row for them.
double off_known_rest(const scene& s, std::span<const double> p, double* row) {
    const auto q = p.subspan(first_q);
    const auto z = half_power(q);
    constexpr double far_off = 100.0;
    if (!z) return far_off;
    const double u = s.rest->u.value();
    if (row != nullptr) {
        const double per_z = 0.5 / (std::numbers::ln2 * *z) / u;
        double power = -per_z / polynomial(q, *z).slope;
        for (std::size_t j = first_q; j < p.size(); ++j) row[j] = power *= *z;
    }
    double known = s.rest->cutoff.value();
    if (s.digital) known += std::log2(stretched(std::exp2(known), s.digital->rate_hz));
    return (std::log2(s.unit_hz) + 0.5 * std::log2(*z) - known) / u;
}

outcome<nonlinear_fit> fit_from(const scene& s, const std::vector<double>& start) {
    const fit_model model{
        .points = s.points.size() + (s.rest ? 1 : 0),
        .residuals =
            [&s](std::span<const double> p, std::span<double> out) {
                moment_nodes nodes{s, p};
                for (std::size_t i = 0; i < s.points.size(); ++i) {
                    const auto& at = s.points[i];
                    out[i] = (mean_nepers(nodes.about(at.t_s), p, at, nullptr) - at.nepers) / at.u;
                }
                if (s.rest) out.back() = off_known_rest(s, p, nullptr);
            },
        .jacobian =
            [&s](std::span<const double> p, std::span<double> out) {
                std::ranges::fill(out, 0.0);
                moment_nodes nodes{s, p};
                for (std::size_t i = 0; i < s.points.size(); ++i)
                    (void)mean_nepers(nodes.about(s.points[i].t_s), p, s.points[i],
                                      &out[i * p.size()]);
                if (s.rest) (void)off_known_rest(s, p, &out[s.points.size() * p.size()]);
            }};
    return fit_nonlinear(model, start, {.most_evaluations = 200, .tolerance = 1e-3});
}

octaves cutoff_at(const scene& s, double z_of_half_power, double open_octaves) {
    return octaves{std::log2(s.unit_hz) + 0.5 * std::log2(z_of_half_power) + open_octaves};
}

/// A filter found, in the parameters above.
struct found_filter {
    nonlinear_fit fit;
    double half_power_z;

    [[nodiscard]] double open_octaves(double t_s) const {
        return fit.parameters[opened] * std::exp(-t_s / std::exp(fit.parameters[ln_tau]));
    }
    [[nodiscard]] double u(std::size_t parameter) const {
        return fit.standard_uncertainty(parameter);
    }
};

/// Poles of the all-pole low-pass of least phase whose gain is 1 / sqrt(1 + q1 z + ...): (1 + i f / pole) for
/// each of them, with z = f^2.
std::vector<std::complex<double>> poles_of(std::span<const double> q) {
    const auto n = static_cast<Eigen::Index>(q.size());
    // The reciprocal polynomial w^n + q1 w^(n-1) + ..., of w = 1 / z, needs no division.
    Eigen::MatrixXd companion = Eigen::MatrixXd::Zero(n, n);
    for (Eigen::Index i = 0; i < n; ++i) {
        companion(0, i) = -q[static_cast<std::size_t>(i)];
        if (i > 0) companion(i, i - 1) = 1.0;
    }
    const Eigen::EigenSolver<Eigen::MatrixXd> solver{companion, false};
    std::vector<std::complex<double>> out;
    for (Eigen::Index i = 0; i < n; ++i) {
        const std::complex<double> pole = std::sqrt(-1.0 / solver.eigenvalues()[i]);
        // A gain that would turn negative somewhere has a pole that no filter has: far above what is
        // heard, where nothing holds it.
        if (std::isfinite(std::abs(pole)) && pole.real() > 1e-6 * std::abs(pole))
            out.push_back(pole);
    }
    return out;
}

/// What a window hears less, in nepers, since the phase of a harmonic turns while the filter moves.
double lost_to_phase(const window_nodes& nodes, std::span<const std::complex<double>> poles,
                     double frequency) {
    std::complex<double> together{0.0, 0.0};
    double sizes = 0.0;
    for (std::size_t i = 0; i < 3; ++i) {
        std::complex<double> turned{1.0, 0.0};
        for (const auto& pole : poles)
            turned *= 1.0 + std::complex<double>{0.0, frequency * nodes.closing[i]} / pole;
        together += node_weights[i] / turned;
        sizes += node_weights[i] / std::abs(turned);
    }
    return std::log(std::abs(together) / sizes);
}

scene heard_in_phase(scene s, const nonlinear_fit& fit) {
    const auto poles = poles_of(std::span{fit.parameters}.subspan(first_q));
    if (poles.empty()) return s;
    moment_nodes nodes{s, fit.parameters};
    for (auto& at : s.points) at.nepers -= lost_to_phase(nodes.about(at.t_s), poles, at.frequency);
    return s;
}

std::optional<found_filter> found_from(const scene& s, const std::vector<double>& start) {
    auto fit = fit_from(s, start);
    for (int i = 0; fit && i < 2; ++i) fit = fit_from(heard_in_phase(s, *fit), fit->parameters);
    if (!fit) return std::nullopt;
    const auto z = half_power(std::span{fit->parameters}.subspan(first_q));
    if (!z) return std::nullopt;
    return found_filter{std::move(*fit), *z};
}

/// One pole more, from a filter that is found without it; the same filter if that fits no better.
found_filter with_more_poles(const scene& s, found_filter found) {
    auto start = found.fit.parameters;
    for (auto order = static_cast<int>(start.size() - first_q); order < highest_order; ++order) {
        start.push_back(1e-4);
        auto more = found_from(s, start);
        if (!more || !(more->fit.rss < found.fit.rss)) return found;
        found = std::move(*more);
        start = found.fit.parameters;
    }
    return found;
}

/// The highest order that the harmonics tell.
std::optional<found_filter> find_filter(const scene& s) {
    for (int order = highest_order; order >= 1; --order) {
        const auto from = best_start(s, order);
        if (from.parameters.empty()) continue;
        if (auto found = found_from(s, from.parameters))
            return with_more_poles(s, std::move(*found));
    }
    return std::nullopt;
}

scene without_open_moments(const scene& s, const found_filter& found) {
    const double resting_hz = std::exp2(cutoff_at(s, found.half_power_z, 0.0).value());
    const double tau_s = std::exp(found.fit.parameters[ln_tau]);
    const double needed_from_s = s.points.back().t_s - least_time_constants * tau_s;
    const double most_octaves =
        std::max({least_room_octaves, std::log2(analogue_below_hz / resting_hz),
                  found.open_octaves(needed_from_s)});
    scene low = s;
    std::erase_if(low.points,
                  [&](const point& p) { return found.open_octaves(p.t_s) > most_octaves; });
    return counted(std::move(low));
}

/// The cutoff at each moment by itself: a step of Newton's from the course, with all else as found.
std::vector<cutoff_point> course_of(const scene& s, const found_filter& found) {
    const auto& p = found.fit.parameters;
    moment_nodes nodes{s, p};
    std::vector<cutoff_point> out;
    for (std::size_t i = 0; i < s.points.size();) {
        const double t = s.points[i].t_s;
        double steepness = 0.0, slope = 0.0;
        const double closing = closing_factor(s, found.open_octaves(t));
        for (; i < s.points.size() && s.points[i].t_s == t; ++i) {
            const auto& x = s.points[i];
            const double off = (x.nepers - mean_nepers(nodes.about(t), p, x, nullptr)) / x.u;
            const double by_octave = gain_at(p, x.frequency * closing).by_octave / x.u;
            slope += off * by_octave;
            steepness += by_octave * by_octave;
        }
        if (!(steepness > 0.0)) continue;
        out.push_back(
            {seconds{t},
             cutoff_at(s, found.half_power_z, found.open_octaves(t)) + octaves{slope / steepness},
             octaves{1.0 / std::sqrt(steepness)}});
    }
    return out;
}

/// Each section of a ladder is transformed at its own pole, which is the mean of the real parts of the
/// whole ring's.
std::optional<double> resting_pole_hz(const scene& s, const found_filter& found) {
    const auto poles = poles_of(std::span{found.fit.parameters}.subspan(first_q));
    if (poles.empty()) return std::nullopt;
    double sum = 0.0;
    for (const auto& pole : poles) sum += pole.real();
    return s.unit_hz * sum / static_cast<double>(poles.size());
}

/// The same as a filter made by the bilinear transform hears it, exact at its resting pole.
std::optional<scene> if_digital(scene s, const found_filter& found) {
    constexpr double usual_rate_hz = 48000.0;
    const auto pole_hz = resting_pole_hz(s, found);
    if (!pole_hz) return std::nullopt;
    s.digital = scene::bilinear{usual_rate_hz, *pole_hz};
    for (auto& at : s.points) at.frequency *= stretched(at.frequency * s.unit_hz, usual_rate_hz);
    return s;
}

// How much longer the time constant is, in nepers, if the filter is a digital one at a usual rate; 0 if
// that explains nothing.
double longer_if_digital(const scene& in_phase, const found_filter& found) {
    const auto s = if_digital(in_phase, found);
    if (!s) return 0.0;
    const auto other = fit_from(*s, found.fit.parameters);
    return other ? other->parameters[ln_tau] - found.fit.parameters[ln_tau] : 0.0;
}

/// What the time constant hangs on the source, in nepers: a harmonic that is weaker there is weaker at
/// all moments, so that more moments say no more about it. Each is moved by its uncertainty, to
/// first order.
double u_of_source(const scene& s, const found_filter& found, double relative_u) {
    const auto& p = found.fit.parameters;
    const auto size = static_cast<Eigen::Index>(p.size());
    Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(size, size);
    std::map<double, Eigen::VectorXd> pulls;  // of each harmonic
    std::vector<double> row(p.size());
    const Eigen::Map<const Eigen::VectorXd> as_vector{row.data(), size};
    const auto clear = [&] { std::ranges::fill(row, 0.0); };
    moment_nodes nodes{s, p};
    for (const auto& at : s.points) {
        clear();
        (void)mean_nepers(nodes.about(at.t_s), p, at, row.data());
        normal.noalias() += as_vector * as_vector.transpose();
        auto& pull = pulls.try_emplace(at.frequency, Eigen::VectorXd::Zero(size)).first->second;
        pull += relative_u / at.u * as_vector;
    }
    if (s.rest) {
        clear();
        (void)off_known_rest(s, p, row.data());
        normal.noalias() += as_vector * as_vector.transpose();
    }
    const Eigen::VectorXd by_tau = normal.ldlt().solve(Eigen::VectorXd::Unit(size, ln_tau));
    double squares = 0.0;
    for (const auto& [frequency, pull] : pulls) squares += std::pow(by_tau.dot(pull), 2.0);
    return std::sqrt(squares);
}

closing_filter_reading reading_of(const scene& heard, const found_filter& found,
                                  const closing_filter_request& request) {
    const auto& p = found.fit.parameters;
    const scene s = heard_in_phase(heard, found.fit);
    const double longer = longer_if_digital(s, found);
    const double tau = std::exp(p[ln_tau] + digital_share * longer);
    return {.closing = {.time_constant = seconds{tau},
                        .u_time_constant = seconds{tau * found.u(ln_tau)},
                        .opened = octaves{p[opened]},
                        .u_opened = octaves{found.u(opened)},
                        .resting = cutoff_at(s, found.half_power_z, 0.0),
                        .u_resting = octaves{found.u(opened)},
                        .misfit_ratio = found.fit.residual_sd},
            .u_source = seconds{tau * u_of_source(s, found, request.relative_u_harmonic)},
            .u_digital = seconds{u_digital_share * tau * std::abs(longer)},
            .course = course_of(s, found),
            .harmonics_used = s.points.size()};
}

std::optional<refusal> unusable(std::span<const heard_harmonics> moments,
                                std::span<const double> source,
                                const closing_filter_request& request) {
    const auto& m = moments;
    const auto is_level = [](const harmonic_level& l) {
        return std::isfinite(l.peak.value()) && std::isfinite(l.u_peak.value());
    };
    if (!(request.pitch > hertz{0.0}) || !(request.relative_u_moment > 0.0) ||
        !(request.relative_u_harmonic >= 0.0) || !(request.window_deviation >= seconds{0.0}) ||
        (request.rest &&
         !(request.rest->u > octaves{0.0} && std::isfinite(request.rest->cutoff.value()))) ||
        !std::ranges::all_of(source, [](double v) { return v > 0.0; }) ||
        !std::ranges::all_of(m, [&](const auto& x) { return x.levels.size() == source.size(); }))
        return refusal::bad_argument;
    if (!std::ranges::all_of(m, [&](const auto& x) {
            return std::isfinite(x.at.value()) && std::ranges::all_of(x.levels, is_level);
        }))
        return refusal::not_finite;
    return std::nullopt;
}

}  // namespace

outcome<closing_filter_reading> measure_closing_filter(std::span<const heard_harmonics> moments,
                                                       std::span<const double> source_volts,
                                                       const closing_filter_request& request) {
    if (const auto why = unusable(moments, source_volts, request)) return refuse(*why);
    scene s = scene_of(moments, source_volts, request);
    s.rest = request.rest;
    if (!s.says_enough()) return refuse(refusal::too_short);
    auto found = find_filter(s);
    if (!found) return refuse(refusal::no_fit);
    if (auto low = without_open_moments(s, *found);
        low.points.size() < s.points.size() && low.says_enough()) {
        s = std::move(low);
        found = found_from(s, found->fit.parameters);
        if (!found) return refuse(refusal::no_fit);
    }
    auto out = reading_of(s, *found, request);
    if (out.closing.misfit_ratio > worst_misfit || !(found->u(ln_tau) < least_known) ||
        !(out.closing.opened > clearly * out.closing.u_opened))
        return refuse(refusal::no_fit);
    return out;
}

}  // namespace cvrig::analysis
