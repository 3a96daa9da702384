#pragma once

#include <array>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/tools/roots.hpp>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <numbers>
#include <optional>

/// How mean and standard deviation of a normal sample scatter, and integrals over the mean.
namespace cvrig::analysis {

[[nodiscard]] inline double normal_below(double z) noexcept {
    return 0.5 * std::erfc(-z / std::numbers::sqrt2);
}
[[nodiscard]] inline double normal_above(double z) noexcept {
    return 0.5 * std::erfc(z / std::numbers::sqrt2);
}

/// Of s / sigma, with that many degrees of freedom.
class deviation_law {
public:
    explicit deviation_law(double degrees_of_freedom) : chi_{degrees_of_freedom} {}
    [[nodiscard]] double below(double ratio) const {
        const double x = chi_.degrees_of_freedom() * ratio * ratio;
        if (is_far(x)) return x < chi_.degrees_of_freedom() ? 0.0 : 1.0;
        return boost::math::cdf(chi_, x);
    }
    [[nodiscard]] double above(double ratio) const {
        const double x = chi_.degrees_of_freedom() * ratio * ratio;
        if (is_far(x)) return x < chi_.degrees_of_freedom() ? 1.0 : 0.0;
        return boost::math::cdf(boost::math::complement(chi_, x));
    }

private:
    /// Where Boost.Math has nothing left to compute: 50 standard deviations away.
    [[nodiscard]] bool is_far(double x) const {
        const double n = chi_.degrees_of_freedom();
        const double far = 50.0 * std::sqrt(2.0 * n);
        return x < n - far || x > n + far + 1500.0;
    }
    boost::math::chi_squared chi_;
};

inline constexpr double mean_step = 0.0625;

/// Where an integral over the sample mean is evaluated, in standard deviations of the mean.
inline constexpr auto mean_nodes = [] {
    std::array<double, 289> z{};
    for (std::size_t i = 0; i < z.size(); ++i)
        z[i] = mean_step * (static_cast<double>(i) - static_cast<double>(z.size() / 2));
    return z;
}();

/// Mean of f(node number) over the sample mean: the trapezoidal rule, whose error falls
/// exponentially with the step for smooth f.
template <class F>
[[nodiscard]] double over_means(F f) {
    double sum = 0.0;
    for (std::size_t i = 0; i < mean_nodes.size(); ++i)
        sum += std::exp(-0.5 * mean_nodes[i] * mean_nodes[i]) * f(i);
    return sum * mean_step * std::numbers::inv_sqrtpi / std::numbers::sqrt2;
}

/// Root of a monotonic function, to that many bits; nothing if it has one sign at both ends.
template <class F>
[[nodiscard]] std::optional<double> root_of(F f, double low, double high, unsigned bits = 44) {
    const double at_low = f(low);
    const double at_high = f(high);
    if (!(at_low * at_high <= 0.0)) return std::nullopt;
    std::uintmax_t most_steps = 200;
    const auto found = boost::math::tools::toms748_solve(
        f, low, high, at_low, at_high, boost::math::tools::eps_tolerance<double>{bits}, most_steps);
    return 0.5 * (found.first + found.second);
}

}  // namespace cvrig::analysis
