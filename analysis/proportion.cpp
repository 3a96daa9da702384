#include "analysis/proportion.hpp"

#include <boost/math/distributions/beta.hpp>
#include <boost/math/distributions/binomial.hpp>
#include <cmath>

namespace cvrig::analysis {
namespace {

using binomial = boost::math::binomial_distribution<double>;

bool is_inner(double p) {
    return p > 0.0 && p < 1.0;
}

bool is_count(unsigned successes, unsigned trials, double confidence) {
    return trials > 0 && successes <= trials && is_inner(confidence);
}

double confidence_of(double n, double p, sample_ends ends) {
    // Of the shares outside, q = 1 - p keeps its digits where p is close to 1.
    const double all_but_one = std::exp((n - 1.0) * std::log(p));
    if (ends == sample_ends::one) return -std::expm1(n * std::log(p));
    return 1.0 - all_but_one * (n - (n - 1.0) * p);
}

}  // namespace

outcome<double> share_at_least(unsigned successes, unsigned trials, double confidence) {
    if (!is_count(successes, trials, confidence)) return refuse(refusal::bad_argument);
    return binomial::find_lower_bound_on_p(trials, successes, 1.0 - confidence);
}

outcome<double> share_at_most(unsigned successes, unsigned trials, double confidence) {
    if (!is_count(successes, trials, confidence)) return refuse(refusal::bad_argument);
    return binomial::find_upper_bound_on_p(trials, successes, 1.0 - confidence);
}

outcome<double> confidence_within_extremes(unsigned units, double share, sample_ends ends) {
    if (units == 0 || !is_inner(share)) return refuse(refusal::bad_argument);
    return confidence_of(units, share, ends);
}

outcome<double> share_within_extremes(unsigned units, double confidence, sample_ends ends) {
    const unsigned least = ends == sample_ends::one ? 1 : 2;
    if (units < least || !is_inner(confidence)) return refuse(refusal::bad_argument);
    if (ends == sample_ends::one) return std::exp(std::log1p(-confidence) / units);
    const boost::math::beta_distribution<double> within{units - 1.0, 2.0};
    return boost::math::quantile(within, 1.0 - confidence);
}

outcome<unsigned> units_for_extremes(double share, double confidence, sample_ends ends) {
    if (!is_inner(share) || !is_inner(confidence)) return refuse(refusal::bad_argument);
    constexpr unsigned most = 1'000'000'000;
    unsigned enough = ends == sample_ends::one ? 1 : 2;
    while (confidence_of(enough, share, ends) < confidence) {
        if (enough > most) return refuse(refusal::bad_argument);
        enough *= 2;
    }
    unsigned less = enough / 2;  // too few, or no sample at all
    while (enough - less > 1) {
        const unsigned middle = less + (enough - less) / 2;
        (confidence_of(middle, share, ends) < confidence ? less : enough) = middle;
    }
    return enough;
}

}  // namespace cvrig::analysis
