#include "tests/coverage/coverage.hpp"

#include <algorithm>
#include <cmath>

namespace cvrig::testing {

double coverage::percent() const noexcept {
    return trials == 0 ? 0.0 : 100.0 * static_cast<double>(held) / static_cast<double>(trials);
}

bool coverage::is_true() const noexcept {
    return percent() >= 93.0 && percent() <= 97.0 && refused * 100 <= trials;
}

coverage cover(const covered_quantity& what, std::size_t trials, std::uint64_t seed) {
    coverage out;
    std::vector<double> ratios;
    for (std::size_t i = 0; i < trials; ++i) {
        const auto t = what.simulate(seed + i);
        if (!t) {
            ++out.refused;
            continue;
        }
        ++out.trials;
        const double error = std::abs(t->value - t->truth);
        ratios.push_back(t->standard_uncertainty > 0.0 ? error / t->standard_uncertainty
                         : error == 0.0                ? 0.0
                                                       : INFINITY);
        out.held += ratios.back() <= 1.96 ? 1u : 0u;
    }
    if (ratios.empty()) return out;
    std::ranges::sort(ratios);
    out.worst_ratio = ratios.back();
    out.median_ratio = ratios[ratios.size() / 2];
    return out;
}

}  // namespace cvrig::testing
