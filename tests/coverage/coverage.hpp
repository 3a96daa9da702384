#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "rig/run/verdict.hpp"

namespace cvrig::testing {

/// One simulated reading beside the truth it was made from.
struct trial {
    double truth;
    double value;
    double standard_uncertainty;
    std::vector<analysis::contribution> budget;  ///< what the uncertainty is made of
};

[[nodiscard]] inline trial trial_of(double truth, const reading& r) {
    return {truth, r.value, r.standard_uncertainty, r.budget};
}

/// One reading of one check, and how to simulate it: a signal of known truth with everything random
/// that is random on a bench (noise, phases, the bench's own errors as large as its file states
/// them), given to the check's own `judge`. Empty where it refused to read.
struct covered_quantity {
    std::string check;
    std::string reading;
    /// Called from two threads at a time.
    std::function<std::optional<trial>(std::uint64_t seed)> simulate;
};

/// How often the stated 95 % interval (1.96 standard uncertainties either side) held the truth.
struct coverage {
    std::size_t trials{0};
    std::size_t held{0};
    std::size_t refused{0};
    double worst_ratio{0.0};   ///< largest error over its standard uncertainty
    double median_ratio{0.0};  ///< 0.674 for a normal law
    double rms_ratio{0.0};     ///< 1 if the uncertainty is neither too small nor too large

    [[nodiscard]] double percent() const noexcept;
    /// 93 to 97 % held, and nothing to speak of refused.
    [[nodiscard]] bool is_true() const noexcept;
};

[[nodiscard]] coverage cover(const covered_quantity& what, std::size_t trials, std::uint64_t seed);

/// One list for each check: tests/coverage/<check>_coverage.cpp.
[[nodiscard]] std::vector<covered_quantity> all_quantities();

}  // namespace cvrig::testing
