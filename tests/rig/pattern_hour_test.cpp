#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <string>

#include "rig/checks/pattern.hpp"
#include "rig/run/runner.hpp"
#include "tests/rig/simple_module.hpp"

using namespace cvrig;
using namespace cvrig::testing;

namespace {

/// Resident memory of this process (proc(5), VmRSS).
std::size_t resident_kb() {
    std::ifstream status{"/proc/self/status"};
    for (std::string line; std::getline(status, line);)
        if (line.starts_with("VmRSS:")) return std::stoul(line.substr(6));
    return 0;
}

/// A module of one saw, made as fast as can be; in one take it is half a semitone sharp.
class quick_link : public cvrig::link {
public:
    take play(const stimulus& sent, const setting_choice& choice, int number,
              int attempt) override {
        const auto kb = resident_kb();
        if (number == 5) first_kb = kb;
        most_kb = std::max(most_kb, kb);
        take out = begin_take(sent, choice, number, attempt);
        out.heard_jacks = {"left", "right"};
        out.heard.assign(2, std::vector<float>(sent.size()));
        const double sharp = number == sharp_take ? std::exp2(0.5 / 12.0) : 1.0;
        double phase = 0.0, step = 0.0;
        float before = -1.0F;
        for (std::size_t i = 0; i < sent.size(); ++i) {
            const float pitch = sent.volts[0][i];
            if (pitch != before) step = sharp * 130.8127826502993 * std::exp2(pitch) / rate_hz;
            before = pitch;
            phase += step;
            if (phase > 0.5) phase -= 1.0;
            // A parabola each period: continuous, so that little of it aliases at this low rate.
            const double wave = 8.0 * phase * (1.0 - 2.0 * std::abs(phase));
            const double gate = sent.volts[1][i] > 1.5F ? 1.0 : 0.0;
            out.heard[0][i] = static_cast<float>(gate * wave + ((i & 1U) != 0 ? 1e-4 : -1e-4));
        }
        out.heard[1] = out.heard[0];
        return out;
    }
    [[nodiscard]] std::string description() const override { return "a quick module"; }

    static constexpr double rate_hz = 12000.0;
    static constexpr int sharp_take = 100;
    std::size_t first_kb{0}, most_kb{0};
};

}  // namespace

TEST_CASE("pattern: an hour of steps is judged in constant memory, and numbered to its end",
          "[run][pattern]") {
    auto m = simple_expectations();
    auto b = simple_bench();
    b.program.rate = sample_rate{quick_link::rate_hz};
    check_expectation pattern;
    pattern.name = "pattern";
    pattern.in = {{}};
    constexpr double steps = 32768;
    pattern.keys["steps"] = everywhere(measure{steps, dimension::count});
    pattern.keys["highest"] = everywhere(measure{1.0, dimension::volts});
    pattern.keys["pitch"] = everywhere(between(-10.0, 10.0, dimension::cents));
    limit none;
    none.upper = 0.0;
    none.unit = dimension::count;
    pattern.keys["wrong steps"] = everywhere(none);
    m.checks = {pattern};
    const auto plan = plan_run(m, b);
    REQUIRE(plan.takes.size() == 128);
    CHECK(plan.sound() > seconds{3600.0});
    quick_link to_module;
    const auto outcome = run(plan, to_module, m, b, {});
    REQUIRE(outcome.checks.size() == 1);
    const auto& r = outcome.checks.front();
    const auto* wrong = r.find("wrong steps");
    REQUIRE(wrong != nullptr);
    CHECK(wrong->outcome == verdict::fail);
    REQUIRE(wrong->measured);
    // The notes without slide of one part of 256 steps, and no other: about two thirds of them.
    CHECK(wrong->measured->value > 140);
    CHECK(wrong->measured->value < 220);
    CHECK_THAT(wrong->reason, Catch::Matchers::StartsWith("Step 25345, struck"));  // 99 * 256 + 1
    CHECK(r.clips.size() == most_pattern_clips);
    CHECK(r.plots.front().curves.front().x.size() < 5000);
    CAPTURE(to_module.first_kb, to_module.most_kb);
    REQUIRE(to_module.first_kb > 0);
    // The whole hour at this rate would be 43 million samples of four channels out and two in:
    // 1 GB, and as much again while it is judged.
    CHECK(to_module.most_kb < to_module.first_kb + 40 * 1024);
}
