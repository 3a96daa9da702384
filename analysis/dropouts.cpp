#include "analysis/dropouts.hpp"

#include <algorithm>
#include <cmath>

#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

constexpr seconds shortest_gap{2e-4};
constexpr seconds beside{0.01};
constexpr double within_noise = 5.0;
constexpr double loud = 100.0;
constexpr cvrig::volts least_noise{1e-7};

bool is_loud(std::span<const double> x, double centre, double least) {
    return std::ranges::any_of(x, [&](double v) { return std::abs(v - centre) > least; });
}

std::span<const double> around(std::span<const double> x, std::ptrdiff_t from, std::ptrdiff_t to) {
    const auto n = static_cast<std::ptrdiff_t>(x.size());
    const auto first = std::clamp<std::ptrdiff_t>(from, 0, n);
    const auto last = std::clamp<std::ptrdiff_t>(to, first, n);
    return x.subspan(static_cast<std::size_t>(first), static_cast<std::size_t>(last - first));
}

}  // namespace

outcome<std::vector<gap_in_sound>> find_gaps(std::span<const double> volts, sample_rate rate,
                                             cvrig::volts noise, cvrig::volts dc) {
    if (!(rate.value() > 0.0) || !(noise.value() >= 0.0)) return refuse(refusal::bad_argument);
    if (static_cast<double>(volts.size()) < 0.025 * rate.value()) return refuse(refusal::too_short);
    if (!all_finite(volts)) return refuse(refusal::not_finite);
    const double least = within_noise * std::max(noise, least_noise).value();
    const auto shortest =
        static_cast<std::ptrdiff_t>(std::max(3.0, std::ceil(shortest_gap.value() * rate.value())));
    const auto side = static_cast<std::ptrdiff_t>(beside.value() * rate.value());
    std::vector<gap_in_sound> out;
    const auto n = static_cast<std::ptrdiff_t>(volts.size());
    for (std::ptrdiff_t i = 0; i < n;) {
        std::ptrdiff_t end = i;
        while (end < n && std::abs(volts[static_cast<std::size_t>(end)] - dc.value()) <= least)
            ++end;
        if (end - i >= shortest && is_loud(around(volts, i - side, i), dc.value(), loud * least) &&
            is_loud(around(volts, end, end + side), dc.value(), loud * least))
            out.push_back({static_cast<double>(i),
                           seconds{static_cast<double>(end - i) / rate.value()},
                           seconds{1.0 / std::sqrt(6.0) / rate.value()}});
        i = std::max(end, i + 1);
    }
    return out;
}

}  // namespace cvrig::analysis
