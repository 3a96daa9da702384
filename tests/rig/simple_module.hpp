#pragma once

#include <functional>

#include "rig/bench/bench.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/link/link.hpp"

namespace cvrig::testing {

/// A module of one line: eight harmonics that follow the pitch jack exactly, on while the gate is
/// high. What it does wrong is chosen by the test.
struct simple_module {
    cents detuned{0.0};
    double right_gain{1.0};
    double noise_volts{1e-4};
    std::function<void(take&)> spoil{};  ///< changes a finished take, for link faults
    int plays{0};
};

/// A link to a simple module, which the test keeps.
class simple_link : public link {
public:
    explicit simple_link(simple_module& module) : module_{module} {}
    take play(const stimulus& sent, const setting_choice& choice, int number, int attempt) override;
    [[nodiscard]] std::string description() const override { return "a simple module"; }

private:
    simple_module& module_;
};

/// Expectations for it: pitch, gate, accent and slide jacks, left and right, no settings, no checks
/// yet.
[[nodiscard]] module_expectations simple_expectations();

/// A bench with those jacks.
[[nodiscard]] bench simple_bench();

/// One value of a key that holds for every choice.
[[nodiscard]] keyed_value everywhere(value v);

/// A tolerance interval.
[[nodiscard]] limit between(double lower, double upper, dimension unit);

}  // namespace cvrig::testing
