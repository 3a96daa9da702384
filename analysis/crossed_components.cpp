#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <cmath>
#include <limits>
#include <optional>
#include <utility>

#include "analysis/crossed_likelihood.hpp"
#include "analysis/normal_sample.hpp"
#include "analysis/simplex_search.hpp"

namespace cvrig::analysis {
namespace {

constexpr double tolerance = 1e-9;  // of -2 ln of the likelihood
constexpr double exact = 1e-12;     // share of squares that rounding may leave

struct best_fit {
    crossed_deviations deviations;
    double criterion{std::numeric_limits<double>::infinity()};
};

/// The likelihood may have more than one summit: the search starts from the best of many places.
best_fit find_best(const crossed_likelihood& likelihood) {
    const auto f = [&](double u, double b) { return likelihood.criterion(u, b); };
    plane_point best{0.0, 0.0, std::numeric_limits<double>::infinity()};
    for (const double u : {0.1, 1.0, 10.0, 100.0, 1000.0})
        for (const double b : {0.1, 1.0, 10.0, 100.0, 1000.0})
            if (const double here = f(u, b); here < best.value) best = {u, b, here};
    const double step = 0.5 * std::max(best.x, best.y);
    best = least_in_plane(f, best, step, tolerance);
    for (const auto& [u, b] : {std::pair{0.0, best.y}, std::pair{best.x, 0.0}, std::pair{0.0, 0.0}})
        if (const double here = f(u, b); here <= best.value + tolerance) best = {u, b, here};
    const double rest = likelihood.best_rest(best.x, best.y);
    const crossed_deviations d{std::abs(best.x) * rest, std::abs(best.y) * rest, rest};
    return {d, likelihood.criterion(d)};
}

enum class part { unit, build, rest };

double deviation_of(const crossed_deviations& d, part which) {
    return which == part::unit ? d.unit : which == part::build ? d.build : d.rest;
}

/// -2 ln of the likelihood with one deviation given and the others at their best.
double profile(const crossed_likelihood& likelihood, const best_fit& best, part which,
               double given) {
    const auto with = [&](double x, double y) -> crossed_deviations {
        if (which == part::unit) return {given, y, std::exp(x)};
        if (which == part::build) return {y, given, std::exp(x)};
        return {x, y, given};
    };
    const auto& d = best.deviations;
    const double other = which == part::unit ? d.build : d.unit;
    const auto f = [&](double x, double y) { return likelihood.criterion(with(x, y)); };
    if (which == part::rest) {
        const double step = 0.3 * std::max({d.unit, d.build, d.rest});
        return least_in_plane(f, {d.unit, d.build}, step, 1e-6).value;
    }
    return least_in_plane(f, {std::log(d.rest), other}, 0.3 * std::max(other, d.rest), 1e-6).value;
}

/// Where the excess, below 0 at `from`, reaches 0: looked for by doubling (or halving), as far away
/// rounding would leave nothing of the likelihood.
template <class F>
std::optional<double> crossing(F excess, double from, double factor) {
    constexpr int most_steps = 40;
    double inside = from;
    for (int i = 0; i < most_steps; ++i) {
        const double outside = inside * factor;
        if (excess(outside) > 0.0)
            return root_of(excess, std::min(inside, outside), std::max(inside, outside), 20);
        inside = outside;
    }
    return std::nullopt;
}

variance_component limits_of(const crossed_likelihood& likelihood, const best_fit& best, part which,
                             double fall) {
    const double at_best = deviation_of(best.deviations, which);
    const auto excess = [&](double deviation) {
        return profile(likelihood, best, which, deviation) - best.criterion - fall;
    };
    variance_component out{at_best * at_best, 0.0, std::numeric_limits<double>::infinity()};
    if (which == part::rest || excess(0.0) > 0.0)
        if (const auto low = crossing(excess, at_best, 0.5)) out.lower = *low * *low;
    const double start = std::max(at_best, 1e-3 * best.deviations.rest);
    if (const auto high = crossing(excess, start, 2.0)) out.upper = *high * *high;
    return out;
}

bool makes_sense(std::span<const crossed_observation> observed, std::size_t units,
                 std::size_t builds, double confidence) {
    return confidence > 0.0 && confidence < 1.0 &&
           std::ranges::all_of(observed, [units, builds](const auto& o) {
               return o.unit < units && o.build < builds;
           });
}

}  // namespace

outcome<crossed_components> measure_crossed(std::span<const crossed_observation> observed,
                                            std::size_t units, std::size_t builds,
                                            double confidence) {
    if (!makes_sense(observed, units, builds, confidence)) return refuse(refusal::bad_argument);
    if (units < 2 || builds < 2 || observed.size() < 3) return refuse(refusal::too_short);
    if (!std::ranges::all_of(observed, [](const auto& o) { return std::isfinite(o.value); }))
        return refuse(refusal::not_finite);
    const crossed_likelihood likelihood{observed, units, builds};
    if (!likelihood.is_complete()) return refuse(refusal::bad_argument);
    if (!likelihood.can_tell_apart()) return refuse(refusal::no_contrast);
    if (likelihood.freedom() < 1) return refuse(refusal::too_short);
    if (likelihood.unexplained_share() < exact) return refuse(refusal::no_contrast);

    const auto best = find_best(likelihood);
    if (!std::isfinite(best.criterion)) return refuse(refusal::no_fit);
    const double fall = boost::math::quantile(boost::math::chi_squared{1.0}, confidence);
    crossed_components out;
    out.unit = limits_of(likelihood, best, part::unit, fall);
    out.build = limits_of(likelihood, best, part::build, fall);
    out.residual = limits_of(likelihood, best, part::rest, fall);
    out.freedom = static_cast<std::size_t>(likelihood.freedom());
    likelihood.predict(best.deviations, out);
    return out;
}

}  // namespace cvrig::analysis
