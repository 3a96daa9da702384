#include "tests/coverage/coverage.hpp"

#include <algorithm>
#include <cmath>
#include <future>
#include <iterator>

namespace cvrig::testing {

double coverage::percent() const noexcept {
    return trials == 0 ? 0.0 : 100.0 * static_cast<double>(held) / static_cast<double>(trials);
}

bool coverage::is_true() const noexcept {
    return percent() >= 93.0 && percent() <= 97.0 && refused * 100 <= trials;
}

namespace {

// Ratios of error to standard uncertainty; negative where the reading was refused.
std::vector<double> ratios_of(const covered_quantity& what, std::size_t first, std::size_t last) {
    std::vector<double> out;
    for (std::size_t seed = first; seed < last; ++seed) {
        const auto t = what.simulate(seed);
        if (!t) {
            out.push_back(-1.0);
            continue;
        }
        const double error = std::abs(t->value - t->truth);
        out.push_back(t->standard_uncertainty > 0.0 ? error / t->standard_uncertainty
                      : error == 0.0                ? 0.0
                                                    : INFINITY);
    }
    return out;
}

}  // namespace

coverage cover(const covered_quantity& what, std::size_t trials, std::uint64_t seed) {
    const std::size_t half = trials / 2;
    auto other =
        std::async(std::launch::async, [&] { return ratios_of(what, seed + half, seed + trials); });
    auto all = ratios_of(what, seed, seed + half);
    for (const double r : other.get()) all.push_back(r);
    coverage out;
    std::vector<double> ratios;
    std::ranges::copy_if(all, std::back_inserter(ratios), [](double r) { return r >= 0.0; });
    out.trials = ratios.size();
    out.refused = all.size() - ratios.size();
    if (ratios.empty()) return out;
    std::ranges::sort(ratios);
    out.held =
        static_cast<std::size_t>(std::ranges::count_if(ratios, [](double r) { return r <= 1.96; }));
    double squares = 0.0;
    for (const double r : ratios) squares += r * r;
    out.rms_ratio = std::sqrt(squares / static_cast<double>(ratios.size()));
    out.worst_ratio = ratios.back();
    out.median_ratio = ratios[ratios.size() / 2];
    return out;
}

}  // namespace cvrig::testing
