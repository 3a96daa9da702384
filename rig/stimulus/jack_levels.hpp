#pragma once

#include <optional>
#include <span>
#include <vector>

#include "analysis/units.hpp"
#include "rig/bench/bench.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/stimulus/passage.hpp"

namespace cvrig {

/// What one output of the bench does at rest and in a step.
class jack_levels {
public:
    /// `jack` is null for an output that feeds nothing which the module names.
    jack_levels(const bench_output& output, const driven_jack* jack)
        : output_{&output}, jack_{jack} {}

    [[nodiscard]] const bench_output& output() const noexcept { return *output_; }
    [[nodiscard]] bool is_gate() const noexcept { return jack_ != nullptr && jack_->is_gate; }
    [[nodiscard]] volts rest() const noexcept;
    /// What it holds in a step, or reaches at its end if it moves.
    [[nodiscard]] volts during(const step& s) const;
    /// Where its way through a step begins; empty if it does not move.
    [[nodiscard]] std::optional<volts> start_of(const step& s) const;
    /// In a gap beside `s`: gates low, CVs as in the step.
    [[nodiscard]] volts beside(const step& s) const { return is_gate() ? rest() : during(s); }

    /// Within the limits, but for what adding up the steps of a stair in binary leaves.
    [[nodiscard]] bool allows(volts v) const noexcept {
        constexpr volts rounding{1e-9};
        return v >= output_->lowest - rounding && v <= output_->highest + rounding;
    }
    /// The float next to `v` that does not lie outside the limits. Needs allows(v).
    [[nodiscard]] float sample(volts v) const noexcept;

private:
    const bench_output* output_;
    const driven_jack* jack_;
};

/// One for each output of the bench, in channel order.
[[nodiscard]] std::vector<jack_levels> levels_of(const module_expectations& module,
                                                 const bench& desk);

/// Everything in the passages that cannot or must not be played.
[[nodiscard]] std::vector<complaint> complaints_about(std::span<const passage> passages,
                                                      std::span<const jack_levels> jacks,
                                                      const module_expectations& module);

}  // namespace cvrig
