#include "analysis/closing_filter.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>

#include "analysis/closing_search.hpp"

namespace cvrig::analysis {
namespace {

using namespace closing_fit;

constexpr double worst_misfit = 10.0;
constexpr double clearly = 5.0;
constexpr double least_known = 0.5;  // u(tau) over tau
// A digital filter follows no analogue law far up: a cutoff near a tenth of the rate is no exponential
// any more, nor is the filter's shape the same. That far it is let in, or this far above rest, or as far
// as so many time constants need.
constexpr double analogue_below_hz = 1500.0;
constexpr double least_room_octaves = 1.5;
constexpr double least_time_constants = 1.2;
// Nobody says at which rate a filter runs. Of what 48 kHz would change, 96 kHz changes a quarter, the
// square of the ratio: between the two, the half-width over sqrt 3 (GUM 4.3.7).
constexpr double digital_share = 0.625, u_digital_share = 0.375 / std::numbers::sqrt3;

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
