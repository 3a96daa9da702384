#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <cmath>

#include "analysis/samples.hpp"
#include "analysis/variance_components.hpp"

namespace cvrig::analysis {
namespace {

struct group_sums {
    std::vector<double> size, mean;
    double within{0.0};  // sum of squares
};

group_sums sums_of(std::span<const double> observed, std::span<const std::size_t> group,
                   std::size_t groups) {
    group_sums s{std::vector<double>(groups, 0.0), std::vector<double>(groups, 0.0)};
    for (std::size_t i = 0; i < observed.size(); ++i) {
        s.size[group[i]] += 1.0;
        s.mean[group[i]] += observed[i];
    }
    for (std::size_t g = 0; g < groups; ++g) s.mean[g] /= s.size[g];
    for (std::size_t i = 0; i < observed.size(); ++i)
        s.within += std::pow(observed[i] - s.mean[group[i]], 2);
    return s;
}

/// Quantile of F with an upper tail.
double f_with_tail(double tail, double n1, double n2) {
    return boost::math::quantile(
        boost::math::complement(boost::math::fisher_f_distribution<double>{n1, n2}, tail));
}

/// The same for n2 = infinity.
double f_with_tail(double tail, double n1) {
    return boost::math::quantile(boost::math::complement(boost::math::chi_squared{n1}, tail)) / n1;
}

struct mean_squares {
    double between, within, n1, n2;
};

double lower_difference(const mean_squares& m, double tail) {
    const double f = f_with_tail(tail, m.n1, m.n2);
    const double g1 = 1.0 - 1.0 / f_with_tail(tail, m.n1);
    const double h2 = 1.0 / f_with_tail(1.0 - tail, m.n2) - 1.0;
    const double g12 = (std::pow(f - 1.0, 2) - g1 * g1 * f * f - h2 * h2) / f;
    const double v =
        std::pow(g1 * m.between, 2) + std::pow(h2 * m.within, 2) + g12 * m.between * m.within;
    return m.between - m.within - std::sqrt(std::max(0.0, v));
}

double upper_difference(const mean_squares& m, double tail) {
    const double f = f_with_tail(1.0 - tail, m.n1, m.n2);
    const double h1 = 1.0 / f_with_tail(1.0 - tail, m.n1) - 1.0;
    const double g2 = 1.0 - 1.0 / f_with_tail(tail, m.n2);
    const double h12 = (std::pow(1.0 - f, 2) - h1 * h1 * f * f - g2 * g2) / f;
    const double v =
        std::pow(h1 * m.between, 2) + std::pow(g2 * m.within, 2) + h12 * m.between * m.within;
    return m.between - m.within + std::sqrt(std::max(0.0, v));
}

void set_limits(one_way_components& out, const group_sums& s, double confidence) {
    const double tail = 0.5 * (1.0 - confidence);
    const auto n1 = static_cast<double>(out.freedom_between);
    const auto n2 = static_cast<double>(out.freedom_within);
    out.within.lower = out.within.variance / f_with_tail(tail, n2);
    out.within.upper = out.within.variance / f_with_tail(1.0 - tail, n2);
    double inverse = 0.0, about = 0.0;
    const double centre = mean(s.mean);
    for (std::size_t g = 0; g < s.size.size(); ++g) {
        inverse += 1.0 / s.size[g];
        about += std::pow(s.mean[g] - centre, 2);
    }
    const double harmonic = static_cast<double>(s.size.size()) / inverse;
    const mean_squares m{harmonic * about / n1, out.within.variance, n1, n2};
    out.between.lower = std::max(0.0, lower_difference(m, tail) / harmonic);
    out.between.upper = std::max(0.0, upper_difference(m, tail) / harmonic);
}

one_way_components estimate(const group_sums& s, double observations) {
    const auto groups = static_cast<double>(s.size.size());
    one_way_components out;
    double squares = 0.0;
    for (std::size_t g = 0; g < s.size.size(); ++g) {
        out.mean += s.size[g] * s.mean[g] / observations;
        squares += s.size[g] * s.size[g];
    }
    double between = 0.0;
    for (std::size_t g = 0; g < s.size.size(); ++g)
        between += s.size[g] * std::pow(s.mean[g] - out.mean, 2);
    out.freedom_between = s.size.size() - 1;
    out.freedom_within = static_cast<std::size_t>(observations - groups);
    out.mean_square_between = between / (groups - 1.0);
    out.mean_square_within = s.within / (observations - groups);
    out.f = out.mean_square_between / out.mean_square_within;
    out.probability = boost::math::cdf(boost::math::complement(
        boost::math::fisher_f_distribution<double>{groups - 1.0, observations - groups}, out.f));
    const double n0 = (observations - squares / observations) / (groups - 1.0);
    const double raw = (out.mean_square_between - out.mean_square_within) / n0;
    out.between_was_negative = raw < 0.0;
    out.between.variance = std::max(0.0, raw);
    out.within.variance = out.mean_square_within;
    out.u_mean = std::sqrt(out.between.variance * squares / (observations * observations) +
                           out.within.variance / observations);
    return out;
}

}  // namespace

outcome<one_way_components> measure_one_way(std::span<const double> observed,
                                            std::span<const std::size_t> group, std::size_t groups,
                                            double confidence) {
    if (observed.size() != group.size() || !(confidence > 0.0 && confidence < 1.0) ||
        std::ranges::any_of(group, [groups](std::size_t g) { return g >= groups; }))
        return refuse(refusal::bad_argument);
    if (groups < 2 || observed.size() <= groups) return refuse(refusal::too_short);
    if (!all_finite(observed)) return refuse(refusal::not_finite);
    const auto s = sums_of(observed, group, groups);
    if (std::ranges::find(s.size, 0.0) != s.size.end()) return refuse(refusal::bad_argument);
    if (!(s.within > 0.0)) return refuse(refusal::no_contrast);
    auto out = estimate(s, static_cast<double>(observed.size()));
    set_limits(out, s, confidence);
    return out;
}

}  // namespace cvrig::analysis
