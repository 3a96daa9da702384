#include "analysis/closing_filter.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>

#include "analysis/closing_digital.hpp"

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

/// What the time constant hangs on the source, in nepers: a harmonic that is weaker there is weaker at
/// all moments, so that more moments say no more about it. Each is moved by its uncertainty, to
/// first order; the bend that is seen moves with it.
double u_of_source(const scene& s, const nonlinear_fit& fit, double relative_u, const bend& bends) {
    const auto& p = fit.parameters;
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
    std::size_t i = 0;
    for (const auto& [frequency, pull] : pulls) {
        const double by_bend = i < bends.pulls.size() ? bends.pulls[i++] : 0.0;
        squares += std::pow(by_tau.dot(pull) + bends.nepers_per_share * by_bend, 2.0);
    }
    return std::sqrt(squares);
}

/// Residuals scatter about each harmonic's mean by so much of what they scatter in all. That mean is the
/// source's, which moves no harmonic against itself, and has its own place in the budget.
double share_that_scatters(const scene& s, const nonlinear_fit& fit) {
    struct harmonic {
        double sum{0.0}, squares{0.0}, weights{0.0};
    };
    std::map<double, harmonic> all;
    const auto off = departures(s, fit.parameters);
    for (std::size_t i = 0; i < off.size(); ++i) {
        const double u = s.points[i].u;
        auto& h = all[s.points[i].frequency];
        h.sum += off[i] / u;
        h.squares += off[i] * off[i];
        h.weights += 1.0 / (u * u);
    }
    double scatter = 0.0;
    for (const auto& [frequency, h] : all) scatter += h.squares - h.sum * h.sum / h.weights;
    constexpr double of_course = 3.0;  // gain slope, opening, time constant
    const double freedom = static_cast<double>(s.points.size() - all.size()) - of_course;
    return freedom > 0.0 && fit.residual_sd > 0.0 ? std::sqrt(scatter / freedom) / fit.residual_sd
                                                  : 1.0;
}

/// What the known rest, uncertain as it is, does to the logarithm of the time constant: residuals say
/// nothing about it.
double u_of_rest(const scene& s, const nonlinear_fit& fit) {
    if (!s.rest || !(fit.residual_sd > 0.0)) return 0.0;
    const auto& p = fit.parameters;
    std::vector<double> row(p.size());
    (void)off_known_rest(s, p, row.data());
    double by_rest = 0.0;
    for (std::size_t j = 0; j < p.size(); ++j)
        by_rest += fit.covariance[ln_tau * p.size() + j] * row[j];
    return std::abs(by_rest) / (fit.residual_sd * fit.residual_sd);
}

double u_ln_tau(const scene& s, const nonlinear_fit& fit) {
    const double by_rest = u_of_rest(s, fit);
    const double of_fit = fit.residual_sd * by_rest;
    const double scatter =
        std::sqrt(std::max(0.0, std::pow(fit.standard_uncertainty(ln_tau), 2) - of_fit * of_fit));
    return std::hypot(share_that_scatters(s, fit) * scatter, by_rest);
}

outcome<closing_filter_reading> reading_of(const scene& heard, const found_filter& found,
                                           const closing_filter_request& request) {
    const scene straight = heard_in_phase(heard, found.fit);
    const auto bends = bend_of(straight, found, request.relative_u_harmonic);
    if (!bends) return refuse(bends.error());
    const scene s = bent(straight, found, bends->share);
    const auto again = s.digital ? fit_from(s, found.fit.parameters) : found.fit;
    if (!again) return refuse(refusal::no_fit);
    const auto& fit = *again;
    const double tau = std::exp(fit.parameters[ln_tau]);
    return closing_filter_reading{
        .closing = {.time_constant = seconds{tau},
                    .u_time_constant = seconds{tau * u_ln_tau(s, fit)},
                    .opened = octaves{found.fit.parameters[opened]},
                    .u_opened = octaves{found.u(opened)},
                    .time_constant_heard = seconds{std::exp(found.fit.parameters[ln_tau])},
                    .correlation = found.fit.correlation(opened, ln_tau),
                    .resting = cutoff_at(straight, found.half_power_z, 0.0),
                    .u_resting = octaves{found.u(opened)},
                    .misfit_ratio = found.fit.residual_sd},
        .u_source = seconds{tau * u_of_source(s, fit, request.relative_u_harmonic, *bends)},
        .u_digital = seconds{tau * bends->u_share * std::abs(bends->nepers_per_share)},
        .course = course_of(straight, found),
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
    const auto out = reading_of(s, *found, request);
    if (!out) return refuse(out.error());
    const auto& closing = out->closing;
    if (closing.misfit_ratio > worst_misfit || !(found->u(ln_tau) < least_known) ||
        !(closing.opened > clearly * closing.u_opened))
        return refuse(refusal::no_fit);
    return out;
}

}  // namespace cvrig::analysis
