#pragma once

#include "analysis/outcome.hpp"
#include "analysis/uncertainty.hpp"

/// What a sample of units says about all units, if they are normally distributed. Ask
/// `measure_normality` first. A tolerance interval in the statistical sense holds a share of the
/// population with a confidence; it is no tolerance that a drawing permits.
namespace cvrig::analysis {

/// Factor k: with `confidence`, at least `share` of all units lies below mean + k s.
///
/// Definition: k = t' / sqrt(n), t' the `confidence` quantile of the noncentral t distribution of n
///             - 1 degrees of freedom and noncentrality z_share sqrt(n). Exact.
/// Source:     ISO 16269-6:2014 (one-sided intervals, unknown mean and deviation); G. J. Hahn and
///             W. Q. Meeker, "Statistical Intervals", 1991, 4.6; computed by Boost.Math.
/// Input:      2 or more units, 0 < share < 1, 0 < confidence < 1.
/// Error:      relative 1e-8.
/// Refuses:    bad_argument, no_fit (Boost.Math finds no answer: millions of units).
[[nodiscard]] outcome<double> one_sided_tolerance_factor(unsigned units, double share,
                                                         double confidence);

/// Factor k: with `confidence`, at least `share` of all units lies within mean - k s .. mean + k s.
///
/// Definition: k at which the integral over the sample mean of the probability that s reaches far
///             enough is `confidence`. Exact, where Howe's k is an approximation.
/// Source:     ISO 16269-6:2014 (two-sided intervals, unknown mean and deviation); R. E. Odeh and D.
///             B. Owen, "Tables for Normal Tolerance Limits, Sampling Plans, and Screening", 1980;
///             trapezoidal rule: L. N. Trefethen and J. A. C. Weideman, SIAM Review 56 (2014).
/// Input:      2 or more units, 0 < share < 1, 0 < confidence < 1.
/// Error:      relative 1e-8.
/// Refuses:    bad_argument, no_fit (k above 10^8).
[[nodiscard]] outcome<double> two_sided_tolerance_factor(unsigned units, double share,
                                                         double confidence);

/// The share of all units inside given limits, each bound with the asked confidence by itself.
struct share_reading {
    double estimate{0.0};  ///< of the normal distribution with the sample's mean and deviation
    double at_least{0.0};
    double at_most{1.0};
};

/// Share of a normal population within limits, from a sample's mean and standard deviation.
///
/// Definition: what lies beyond one limit: z such that the noncentral t distribution of n - 1
///             degrees of freedom and noncentrality z sqrt(n) has the asked tail beyond sqrt(n)
///             (limit - mean) / s: the inverse of the one-sided tolerance factor. With two limits
///             the two shares beyond are added, each bound with half the doubt (Bonferroni).
/// Source:     D. B. Owen 1968, "A survey of properties and applications of the noncentral t
///             distribution", Technometrics 10, from memory. A generalised pivotal quantity
///             (Weerahandi 1993) would be sharper with two limits, but its upper bound holds far
///             too seldom in small samples.
/// Input:      2 or more units, finite mean, s above 0 (with n - 1), one limit or two, 0 <
///             confidence < 1. Never for a sample that `measure_normality` calls not normal.
/// Error:      one limit: exact, each bound holds in `confidence` of all cases. Two limits: each
///             holds at least as often, by proof; it is wider than need be
///             (tests/analysis/share_within_test.cpp).
/// Refuses:    bad_argument, no_fit (no quantile found).
[[nodiscard]] outcome<share_reading> share_within(double mean, double standard_deviation,
                                                  unsigned units,
                                                  const tolerance_interval& permitted,
                                                  double confidence);

}  // namespace cvrig::analysis
