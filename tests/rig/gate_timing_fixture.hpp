#pragma once

#include <algorithm>
#include <random>
#include <stdexcept>
#include <string>

#include "rig/run/runner.hpp"
#include "tests/matrix/ferrule_link.hpp"

/// The demo module judged by one of the checks that time its gates.
namespace cvrig::testing {

/// The demo module whose sound is replaced by silence or by hiss.
class deaf_link : public cvrig::link {
public:
    explicit deaf_link(double hiss_volts) : hiss_volts_{hiss_volts} {}
    take play(const stimulus& sent, const setting_choice& choice, int number,
              int attempt) override {
        auto back = module_.play(sent, choice, number, attempt);
        std::mt19937 random{static_cast<unsigned>(number)};
        std::normal_distribution<float> hiss{0.0F, 1.0F};
        for (auto& jack : back.heard)
            for (float& v : jack) v = static_cast<float>(hiss_volts_) * hiss(random);
        return back;
    }
    [[nodiscard]] std::string description() const override { return "nothing"; }

private:
    double hiss_volts_;
    ferrule_link module_{1, ""};
};

inline check_result judged_by(const std::string& check, cvrig::link& to_module,
                              double rate_hz = 48000.0) {
    const auto module = read_expectations(CVRIG_DEMO "/ferrule.expectations.yaml", all_specs());
    auto desk = read_bench(CVRIG_DEMO "/desk.bench.yaml");
    desk.program.rate = sample_rate{rate_hz};
    auto outcome = run(plan_run(module, desk, {.checks = {check}, .settings = {}}), to_module,
                       module, desk, {});
    return std::move(outcome.checks.at(0));
}

inline check_result judged_by(const std::string& check, unsigned unit, const std::string& fault,
                              double rate_hz = 48000.0) {
    ferrule_link to_module{unit, fault};
    return judged_by(check, to_module, rate_hz);
}

inline const finding& found(const check_result& r, const std::string& key) {
    const auto* f = r.find(key);
    if (f == nullptr) throw std::runtime_error{"no finding for " + key};
    return *f;
}

}  // namespace cvrig::testing
