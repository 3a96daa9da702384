#include <algorithm>
#include <cmath>

#include "analysis/minimax_fit.hpp"
#include "analysis/samples.hpp"

namespace cvrig::analysis {

prediction minimax_line_fit::predict(double x) const noexcept {
    const double variance =
        u_intercept * u_intercept + x * (2.0 * covariance + x * u_slope * u_slope);
    return {at(x), std::sqrt(std::max(0.0, variance))};
}

outcome<minimax_line_fit> minimax_line(std::span<const double> x, std::span<const double> y,
                                       const ordinate_uncertainty& u) {
    if (x.size() != y.size()) return refuse(refusal::bad_argument);
    if (x.size() < 3) return refuse(refusal::too_short);
    if (!all_finite(x)) return refuse(refusal::not_finite);
    // About the middle, intercept and slope stay independent however far x is from 0.
    const auto [least, most] = std::ranges::minmax(x);
    const double centre = least + (most - least) / 2.0;
    std::vector<double> basis;
    basis.reserve(2 * x.size());
    for (const double v : x) basis.insert(basis.end(), {1.0, v - centre});
    auto fit = minimax_fit(basis, 2, y, u);
    if (!fit) return refuse(fit.error());

    minimax_line_fit line;
    line.slope = fit->coefficients[1];
    line.intercept = fit->coefficients[0] - centre * line.slope;
    line.u_slope = fit->standard_uncertainty(1);
    line.u_intercept = fit->predict(std::vector{1.0, -centre}).standard_uncertainty;
    line.covariance = fit->covariance[1] - centre * fit->covariance[3];
    line.worst_departure = fit->worst_departure;
    line.u_worst_departure = fit->u_worst_departure;
    line.touching = std::move(fit->touching);
    line.rivals = fit->rivals;
    line.rivals_of_worst = fit->rivals_of_worst;
    return line;
}

}  // namespace cvrig::analysis
