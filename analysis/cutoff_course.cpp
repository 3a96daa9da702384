#include "analysis/cutoff_course.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "analysis/fit.hpp"

namespace cvrig::analysis {
namespace {

constexpr std::size_t least_points = 6;
constexpr double clearly = 5.0;

bool is_finite(const cutoff_point& p) {
    return std::isfinite(p.at.value()) && std::isfinite(p.cutoff.value()) &&
           std::isfinite(p.u_cutoff.value());
}

struct straight_part {
    double resting, opened, rss;
};

// For a given time constant the rest is a straight line through exp(-t / tau).
std::optional<straight_part> best_at(std::span<const cutoff_point> all, double tau_s) {
    double w = 0.0, we = 0.0, wee = 0.0, wy = 0.0, wey = 0.0;
    for (const auto& p : all) {
        const double e = std::exp(-p.at.value() / tau_s);
        const double weight = 1.0 / (p.u_cutoff.value() * p.u_cutoff.value());
        const double y = p.cutoff.value();
        w += weight;
        we += weight * e;
        wee += weight * e * e;
        wy += weight * y;
        wey += weight * e * y;
    }
    const double determinant = w * wee - we * we;
    if (!(determinant > 1e-12 * w * wee)) return std::nullopt;
    straight_part out{(wee * wy - we * wey) / determinant, (w * wey - we * wy) / determinant, 0.0};
    for (const auto& p : all) {
        const double model = out.resting + out.opened * std::exp(-p.at.value() / tau_s);
        const double off = (model - p.cutoff.value()) / p.u_cutoff.value();
        out.rss += off * off;
    }
    return out;
}

// A resting cutoff that is known is one more point, at a time when nothing is left of the decay.
std::vector<cutoff_point> with_resting(std::span<const cutoff_point> course,
                                       const std::optional<cutoff_point>& resting) {
    std::vector<cutoff_point> all{course.begin(), course.end()};
    if (!resting) return all;
    all.push_back(*resting);
    all.back().at = seconds{1e9};
    return all;
}

std::optional<std::array<double, 3>> start_of(std::span<const cutoff_point> all, double span_s) {
    std::optional<std::array<double, 3>> best;
    double least = 0.0;
    for (double tau = 0.02 * span_s; tau < 40.0 * span_s; tau *= 1.2) {
        const auto part = best_at(all, tau);
        if (!part || (best && part->rss >= least)) continue;
        least = part->rss;
        best = {part->resting, part->opened, std::log(tau)};
    }
    return best;
}

outcome<nonlinear_fit> fit(std::span<const cutoff_point> all, const std::array<double, 3>& start) {
    const fit_model model{
        .points = all.size(),
        .residuals =
            [all](std::span<const double> p, std::span<double> out) {
                for (std::size_t i = 0; i < all.size(); ++i) {
                    const double model_value =
                        p[0] + p[1] * std::exp(-all[i].at.value() / std::exp(p[2]));
                    out[i] = (model_value - all[i].cutoff.value()) / all[i].u_cutoff.value();
                }
            },
        .jacobian =
            [all](std::span<const double> p, std::span<double> out) {
                for (std::size_t i = 0; i < all.size(); ++i) {
                    const double u = all[i].u_cutoff.value();
                    const double lasted = all[i].at.value() / std::exp(p[2]);
                    const double left = std::exp(-lasted);
                    out[3 * i] = 1.0 / u;
                    out[3 * i + 1] = left / u;
                    out[3 * i + 2] = left > 0.0 ? p[1] * left * lasted / u : 0.0;
                }
            }};
    return fit_nonlinear(model, start);
}

}  // namespace

octaves closing_reading::still_open(seconds at) const noexcept {
    return opened * std::exp(-(at / time_constant));
}

outcome<closing_reading> measure_closing(std::span<const cutoff_point> course,
                                         std::optional<cutoff_point> resting) {
    if (course.size() < least_points) return refuse(refusal::too_short);
    const auto all = with_resting(course, resting);
    if (!std::ranges::all_of(all, is_finite)) return refuse(refusal::not_finite);
    if (!std::ranges::all_of(all, [](const auto& p) { return p.u_cutoff > octaves{0.0}; }))
        return refuse(refusal::bad_argument);
    const auto [first, last] = std::ranges::minmax(course, {}, &cutoff_point::at);
    const double span_s = (last.at - first.at).value();
    if (span_s < 0.005) return refuse(refusal::too_short);
    const auto start = start_of(all, span_s);
    if (!start) return refuse(refusal::no_fit);
    const auto found = fit(all, *start);
    if (!found) return refuse(refusal::no_fit);
    // The points' own uncertainties count, too, where the residuals happen to be smaller.
    const double widened = found->residual_sd > 0.0 ? std::max(1.0, 1.0 / found->residual_sd) : 1.0;
    const auto u = [&](std::size_t i) { return widened * found->standard_uncertainty(i); };
    const double tau = std::exp(found->parameters[2]);
    const closing_reading out{.time_constant = seconds{tau},
                              .u_time_constant = seconds{tau * u(2)},
                              .opened = octaves{found->parameters[1]},
                              .u_opened = octaves{u(1)},
                              .resting = octaves{found->parameters[0]},
                              .u_resting = octaves{u(0)},
                              .misfit_ratio = found->residual_sd};
    if (!(out.opened > clearly * out.u_opened) || !std::isfinite(tau * u(2)))
        return refuse(refusal::no_fit);
    return out;
}

}  // namespace cvrig::analysis
