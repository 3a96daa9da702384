#pragma once

#include <span>
#include <string_view>

/// What each injectable fault of the demo module should do to the checks that listen.
namespace cvrig::testing {

struct fault_row {
    std::string_view name;
    /// What is as large as the tolerance of demo/ferrule.expectations.yaml, in the fault's own
    /// unit.
    double at_tolerance;
    /// A fault that is there or not: it is injected as it stands, and half of it means nothing.
    bool is_switch;
    /// The check that must fail.
    std::string_view must;
    /// Other checks that it really touches, and why.
    std::string_view also;
    std::string_view because;
};

[[nodiscard]] std::span<const fault_row> fault_rows() noexcept;

}  // namespace cvrig::testing
