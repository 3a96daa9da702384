#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

/// Where two records match best, to a small part of a sample.
namespace cvrig::analysis {

/// Correlation coefficient of b(n + lag) with a(n) over the samples that both have, for lags
/// -longest ... +longest (index = lag + longest). Without mean removal.
///
/// Input:      equal lengths above 2 * longest.
[[nodiscard]] std::vector<double> correlation_by_lag(std::span<const double> a,
                                                     std::span<const double> b,
                                                     std::size_t longest);

/// The lag of best match, sub-sample, either polarity: of peaks as good as the best (within its
/// noise) the one nearest to lag 0. Nothing if no lag within `longest` is a peak.
///
/// Input:      coefficients of lags to longest + kernel_reach on either side.
[[nodiscard]] std::optional<double> nearest_good_lag(std::span<const double> coefficients,
                                                     std::size_t longest);

}  // namespace cvrig::analysis
