#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "analysis/outcome.hpp"

/// How much of a scatter comes from where: from units, from builds, from repetition. All numbers of
/// one call share one unit, that of the observations (variances: its square).
namespace cvrig::analysis {

/// A variance and the limits that hold it with the asked confidence (both sides together).
struct variance_component {
    double variance{0.0};
    double lower{0.0};
    double upper{0.0};  ///< infinity where nothing bounds it
};

struct one_way_components {
    double mean{0.0}, u_mean{0.0};  ///< of all observations; u counts both components
    variance_component between{}, within{};
    /// The estimate between groups was negative and is given as 0: groups differ by less than their
    /// own scatter.
    bool between_was_negative{false};
    double mean_square_between{0.0}, mean_square_within{0.0};
    std::size_t freedom_between{0}, freedom_within{0};
    double f{0.0};            ///< ratio of the mean squares
    double probability{1.0};  ///< how often groups that are all alike give such an F or more
};

/// Scatter between groups (units, builds, days) and within them.
///
/// Definition: s_within^2 = MS_within; s_between^2 = (MS_between - MS_within) / n0, n0 = (N - sum
///             n_i^2 / N) / (groups - 1). Limits: within by chi-square, exact; between by the
///             modified large-sample method, with unweighted group means and the harmonic mean of
///             the n_i where these differ. Exact F test.
/// Source:     JCGM 100:2008, H.5 (balanced); O. L. Davies and P. L. Goldsmith, "Statistical Methods
///             in Research and Production", 4th edition 1972, chapter 6; limits: R. K. Burdick and
///             F. A. Graybill, "Confidence Intervals on Variance Components", 1992, chapter 3, and
///             W. H. Thomas and C. R. Hultquist 1978, Ann. Stat. 6 (unequal groups), from memory.
/// Input:      a group number below `groups` for each observation, two or more groups, none empty,
///             at least one with two or more observations; 0 < confidence < 1.
/// Error:      rounding of the estimates; the limits between hold in `confidence` of all cases
///             within 2 % (tests/analysis/one_way_test.cpp).
/// Refuses:    too_short (one group, no repetition), bad_argument (sizes, empty group, confidence),
///             not_finite, no_contrast (no scatter within any group).
[[nodiscard]] outcome<one_way_components> measure_one_way(std::span<const double> observed,
                                                          std::span<const std::size_t> group,
                                                          std::size_t groups,
                                                          double confidence = 0.95);

/// What one unit or one build adds to the mean of all, as best predicted.
struct predicted_effect {
    double value{0.0};
    double u{0.0};  ///< standard uncertainty of value against the true effect
};

/// Which unit ran which build, and what was read.
struct crossed_observation {
    std::size_t unit{0}, build{0};
    double value{0.0};
};

struct crossed_components {
    double mean{0.0}, u_mean{0.0};
    variance_component unit{}, build{};
    /// Repetition, and what one unit makes of one build beyond the sum of both.
    variance_component residual{};
    std::vector<predicted_effect> unit_effects, build_effects;
    std::size_t freedom{0};  ///< observations less the units and builds that are told apart
};

/// Scatter of units, of builds and of the rest, where units and builds are crossed.
///
/// Definition: value = mean + unit + build + rest, all three random and independent. Restricted
///             maximum likelihood (REML); limits where its profile falls by half the chi-square
///             quantile of one degree of freedom. Effects: best linear unbiased predictions, u with
///             that of the mean, the variances taken as known.
/// Source:     H. D. Patterson and R. Thompson 1971, "Recovery of inter-block information when block
///             sizes are unequal", Biometrika 58; C. R. Henderson 1975, Biometrics 31 (predictions);
///             D. Bates et al. 2015, "Fitting linear mixed-effects models using lme4", J. Stat.
///             Software 67 (profiled criterion).
/// Input:      unit numbers below `units`, build numbers below `builds`, each at least once; two or
///             more of both; cells may be empty or repeated; about 300 units and builds together.
///             0 < confidence < 1.
/// Error:      relative 1e-5 of the variances; equal to the analysis of variance where the design is
///             balanced and no component is at 0. Limits of 95 % held in 93 to 97 of 100 drawn
///             cases, of three builds too, and 1.96 u of a prediction in 93
///             (tests/analysis/crossed_components_test.cpp). A component of k levels is known like
///             a variance of k - 1 degrees of freedom: of two or three builds hardly at all, as its
///             limits show. Takes half a minute where units and builds are 150 each, below a second
///             with hundreds of units and ten builds.
/// Refuses:    too_short (fewer than two units or builds, no freedom left for the rest),
///             bad_argument (numbers out of range, a unit or build without observation, confidence),
///             not_finite, no_contrast (units and builds always change together, or no scatter is
///             left at all), no_fit.
[[nodiscard]] outcome<crossed_components> measure_crossed(
    std::span<const crossed_observation> observed, std::size_t units, std::size_t builds,
    double confidence = 0.95);

}  // namespace cvrig::analysis
