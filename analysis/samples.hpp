#pragma once

#include <span>

/// The few sums that every measurement needs.
namespace cvrig::analysis {

/// True if no number is NaN or infinite; true for none.
[[nodiscard]] bool all_finite(std::span<const double> x) noexcept;

/// Arithmetic mean of one or more numbers.
[[nodiscard]] double mean(std::span<const double> x) noexcept;

/// Root mean square of one or more numbers about their mean.
[[nodiscard]] double deviation(std::span<const double> x) noexcept;

/// Sum of products of two equally long lists.
[[nodiscard]] double dot(std::span<const double> a, std::span<const double> b) noexcept;

}  // namespace cvrig::analysis
