#pragma once

#include <cstddef>
#include <span>
#include <vector>

/// Values between the samples of a band-limited record.
namespace cvrig::analysis {

/// Reach of the interpolation kernel: it needs this many samples on either side.
inline constexpr std::ptrdiff_t kernel_reach = 32;

/// sin(pi x) / (pi x) under a window that ends at kernel_reach, and its slope.
///
/// Error:      -95 dB of a component up to 0.8 of half the rate, for the value; exact at whole x.
struct kernel_point {
    double value, slope;
};
[[nodiscard]] kernel_point interpolation_kernel(double x) noexcept;

/// A record delayed by any number of samples, and how it changes with that number.
struct delayed_record {
    std::size_t first{0};        ///< index of the undelayed record that [0] stands at
    std::vector<double> value;   ///< x(n - delay)
    std::vector<double> change;  ///< d value / d delay
};

/// Delays samples [from, to) of a record; where the kernel would reach over an end of the record,
/// samples are left out, so the result may be shorter or empty.
[[nodiscard]] delayed_record delay_by(std::span<const double> x, double delay_samples,
                                      std::size_t from, std::size_t to);

}  // namespace cvrig::analysis
