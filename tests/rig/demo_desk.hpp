#pragma once

#include <algorithm>
#include <random>
#include <stdexcept>
#include <string>

#include "rig/run/runner.hpp"
#include "tests/matrix/ferrule_link.hpp"

/// One check of the demo's expectation file against the demo module in this process.
namespace cvrig::testing {

struct demo_desk {
    demo_desk()
        : module{read_expectations(CVRIG_DEMO "/ferrule.expectations.yaml", all_specs())},
          desk{read_bench(CVRIG_DEMO "/desk.bench.yaml")} {}

    /// The check's only result with these settings.
    [[nodiscard]] check_result judged(link& to_module, const run_filter& filter) const {
        auto outcome = run(plan_run(module, desk, filter), to_module, module, desk, {});
        if (outcome.checks.size() != 1) throw std::runtime_error{"not one result"};
        return std::move(outcome.checks.front());
    }

    module_expectations module;
    bench desk;
};

/// The demo module, of whose sound nothing but white noise comes back.
class noise_only : public link {
public:
    explicit noise_only(double rms_volts) : rms_volts_{rms_volts} {}

    [[nodiscard]] take play(const stimulus& sent, const setting_choice& choice, int number,
                            int attempt) override {
        auto back = module_.play(sent, choice, number, attempt);
        std::mt19937 random{7};
        std::normal_distribution<float> noise{0.0F, 1.0F};
        for (auto& jack : back.heard)
            for (auto& v : jack) v = static_cast<float>(rms_volts_) * noise(random);
        return back;
    }
    [[nodiscard]] std::string description() const override { return "noise"; }

private:
    double rms_volts_;
    ferrule_link module_{1, ""};
};

[[nodiscard]] inline const finding& finding_of(const check_result& r, const std::string& key) {
    const auto* found = r.find(key);
    if (found == nullptr) throw std::runtime_error{"no finding for " + key};
    return *found;
}

}  // namespace cvrig::testing
