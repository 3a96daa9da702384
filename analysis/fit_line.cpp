#include <algorithm>
#include <cmath>

#include "analysis/fit.hpp"
#include "analysis/samples.hpp"

namespace cvrig::analysis {

namespace {

/// Sums about the weighted means. Centring first keeps the digits that the textbook form with
/// n * sum(x^2) - sum(x)^2 loses when x is far from 0.
struct centred_sums {
    double weight{0}, x{0}, y{0}, xx{0}, xy{0};
};

double weight_of(std::span<const double> weights, std::size_t i) {
    return weights.empty() ? 1.0 : weights[i];
}

centred_sums sums_of(std::span<const double> x, std::span<const double> y,
                     std::span<const double> weights) {
    centred_sums s;
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double w = weight_of(weights, i);
        s.weight += w;
        s.x += w * x[i];
        s.y += w * y[i];
    }
    s.x /= s.weight;
    s.y /= s.weight;
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double w = weight_of(weights, i);
        s.xx += w * (x[i] - s.x) * (x[i] - s.x);
        s.xy += w * (x[i] - s.x) * (y[i] - s.y);
    }
    return s;
}

double scatter(std::span<const double> x, std::span<const double> y,
               std::span<const double> weights, const centred_sums& s, double slope) {
    double rss = 0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double r = (y[i] - s.y) - slope * (x[i] - s.x);
        rss += weight_of(weights, i) * r * r;
    }
    return rss;
}

}  // namespace

prediction line_fit::predict(double x) const noexcept {
    // At the centre, height and slope are uncorrelated, so no large terms cancel here.
    return {at(x), std::hypot(u_at_centre, (x - centre_x) * u_slope)};
}

double line_fit::correlation() const noexcept {
    const double product = u_intercept * u_slope;
    return product > 0 ? covariance / product : 0.0;
}

outcome<line_fit> fit_line(std::span<const double> x, std::span<const double> y,
                           std::span<const double> weights) {
    if (x.size() != y.size() || (!weights.empty() && weights.size() != x.size()))
        return refuse(refusal::bad_argument);
    if (x.size() < 3) return refuse(refusal::too_short);
    if (!all_finite(x) || !all_finite(y) || !all_finite(weights))
        return refuse(refusal::not_finite);
    if (std::any_of(weights.begin(), weights.end(), [](double w) { return w <= 0; }))
        return refuse(refusal::bad_argument);
    const auto s = sums_of(x, y, weights);
    if (!(s.xx > 0)) return refuse(refusal::bad_argument);

    line_fit line;
    line.degrees_of_freedom = x.size() - 2;
    line.centre_x = s.x;
    line.slope = s.xy / s.xx;
    line.intercept = s.y - line.slope * s.x;
    line.residual_sd = std::sqrt(scatter(x, y, weights, s, line.slope) /
                                 static_cast<double>(line.degrees_of_freedom));
    line.u_slope = line.residual_sd / std::sqrt(s.xx);
    line.u_at_centre = line.residual_sd / std::sqrt(s.weight);
    line.u_intercept = std::hypot(line.u_at_centre, s.x * line.u_slope);
    line.covariance = -s.x * line.u_slope * line.u_slope;
    return line;
}

std::vector<double> departures(const line_fit& line, std::span<const double> x,
                               std::span<const double> y) {
    std::vector<double> out(std::min(x.size(), y.size()));
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = y[i] - line.at(x[i]);
    return out;
}

}  // namespace cvrig::analysis
