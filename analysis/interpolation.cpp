#include "analysis/interpolation.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "analysis/window.hpp"

namespace cvrig::analysis {

namespace {

constexpr std::size_t taps = 2 * kernel_reach;
constexpr std::size_t cache_block = 512;

/// Tap t multiplies x[i - (t + 1 - reach)]; scaled to pass DC exactly, since windowed taps miss
/// that by some 1e-6, and low frequencies with it.
std::array<kernel_point, taps> taps_for(double fraction) {
    std::array<kernel_point, taps> h;
    kernel_point sum{0, 0};
    for (std::size_t t = 0; t < taps; ++t) {
        h[t] = interpolation_kernel(static_cast<double>(t) + 1 - kernel_reach - fraction);
        h[t].slope = -h[t].slope;  // the argument falls as the delay grows
        sum.value += h[t].value;
        sum.slope += h[t].slope;
    }
    for (auto& tap : h) {
        tap.slope = (tap.slope - tap.value * sum.slope / sum.value) / sum.value;
        tap.value /= sum.value;
    }
    return h;
}

/// Adds four taps to value and change. Taking four at a time halves the traffic with memory; the
/// plain loop is what compilers vectorise. `x` belongs to h[0], the sample before it to h[1], ...
void add_taps(const double* x, const kernel_point* h, double* value, double* change,
              std::size_t n) {
    const double* const y = x - 3;
    for (std::size_t i = 0; i < n; ++i) {
        value[i] += h[0].value * y[i + 3] + h[1].value * y[i + 2] + h[2].value * y[i + 1] +
                    h[3].value * y[i];
        change[i] += h[0].slope * y[i + 3] + h[1].slope * y[i + 2] + h[2].slope * y[i + 1] +
                     h[3].slope * y[i];
    }
}

}  // namespace

kernel_point interpolation_kernel(double x) noexcept {
    const double pi = std::numbers::pi;
    const double reach = static_cast<double>(kernel_reach);
    if (std::abs(x) >= reach) return {0, 0};
    double window = 0, window_slope = 0, sum = 0;
    const auto a = cosine_coefficients(window_kind::nuttall);
    for (std::size_t k = 0; k < a.size(); ++k) {
        const double turn = pi * static_cast<double>(k) / reach;
        window += a[k] * std::cos(turn * x);
        window_slope -= a[k] * turn * std::sin(turn * x);
        sum += a[k];
    }
    if (std::abs(x) < 1e-6) return {1.0, -pi * pi * x / 3};
    // sin(pi x) by its distance to the nearest whole number is exactly 0 at every other sample.
    const double nearest = std::nearbyint(x);
    const double sign = std::fmod(nearest, 2.0) == 0 ? 1.0 : -1.0;
    const double sinc = sign * std::sin(pi * (x - nearest)) / (pi * x);
    const double sinc_slope = (sign * std::cos(pi * (x - nearest)) - sinc) / x;
    return {sinc * window / sum, (sinc_slope * window + sinc * window_slope) / sum};
}

delayed_record delay_by(std::span<const double> x, double delay_samples, std::size_t from,
                        std::size_t to) {
    const auto whole = static_cast<std::ptrdiff_t>(std::floor(delay_samples));
    const double fraction = delay_samples - std::floor(delay_samples);
    const auto n = static_cast<std::ptrdiff_t>(x.size());
    // x[i - whole - j], j = 1 - reach ... reach, must exist.
    const auto first = std::max(static_cast<std::ptrdiff_t>(from), whole + kernel_reach);
    const auto last = std::min(static_cast<std::ptrdiff_t>(to), n + whole + 1 - kernel_reach);
    if (last <= first) return {};

    const auto h = taps_for(fraction);
    delayed_record out;
    out.first = static_cast<std::size_t>(first);
    const auto count = static_cast<std::size_t>(last - first);
    out.value.assign(count, 0.0);
    out.change.assign(count, 0.0);
    for (std::size_t start = 0; start < count; start += cache_block) {
        const auto length = std::min(cache_block, count - start);
        for (std::size_t t = 0; t < taps; t += 4) {
            const auto at = first + static_cast<std::ptrdiff_t>(start) - whole -
                            (static_cast<std::ptrdiff_t>(t) + 1 - kernel_reach);
            add_taps(x.data() + at, &h[t], out.value.data() + start, out.change.data() + start,
                     length);
        }
    }
    return out;
}

}  // namespace cvrig::analysis
