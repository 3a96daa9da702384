#include "rig/checks/clicks.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <random>

#include "rig/run/runner.hpp"
#include "tests/matrix/ferrule_link.hpp"

using namespace cvrig;
using Catch::Matchers::WithinAbs;
using cvrig::testing::ferrule_link;

namespace {

/// What comes back in place of the module's sound.
enum class instead { nothing, noise };

class unplugged : public cvrig::link {
public:
    explicit unplugged(instead what) : what_{what} {}
    take play(const stimulus& sent, const setting_choice& choice, int number,
              int attempt) override {
        auto back = module_.play(sent, choice, number, attempt);
        std::mt19937 random{5};
        std::normal_distribution<float> noise{0.0F, what_ == instead::noise ? 0.1F : 0.0F};
        for (auto& jack : back.heard)
            for (auto& v : jack) v = what_ == instead::noise ? noise(random) : 0.0F;
        return back;
    }
    [[nodiscard]] std::string description() const override { return "nothing"; }

private:
    instead what_;
    ferrule_link module_{1, ""};
};

check_result judged(cvrig::link& to_module, double rate_hz = 48000.0) {
    const auto specs = all_specs();
    const auto module = read_expectations(CVRIG_DEMO "/ferrule.expectations.yaml", specs);
    auto desk = read_bench(CVRIG_DEMO "/desk.bench.yaml");
    desk.program.rate = sample_rate{rate_hz};
    const run_filter filter{.checks = {"clicks"}, .settings = {{"mode", "tied"}}};
    auto outcome = run(plan_run(module, desk, filter), to_module, module, desk, {});
    REQUIRE(outcome.checks.size() == 1);
    return std::move(outcome.checks.front());
}

check_result judged(unsigned unit, const std::string& fault, double rate_hz = 48000.0) {
    ferrule_link to_module{unit, fault};
    return judged(to_module, rate_hz);
}

const finding& find(const check_result& r, const std::string& key) {
    const auto* found = r.find(key);
    if (found == nullptr) throw std::runtime_error{"no finding for " + key};
    return *found;
}

}  // namespace

TEST_CASE("clicks check: a good build passes at every rate", "[checks][clicks]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    CAPTURE(rate);
    const auto r = judged(3, "", rate);
    CHECK(r.outcome() == verdict::pass);
    CHECK(r.attempts == 1);
    CHECK(find(r, "clicks").measured->value == 0.0);
    CHECK(find(r, "largest click").measured->value < -50.0);
}

TEST_CASE("clicks check: each fault fails the demand that is about it", "[checks][clicks]") {
    struct row {
        const char* fault;
        const char* key;
    };
    const auto r =
        GENERATE(row{"crackle:0.05", "clicks"}, row{"slide-click:0.1", "largest click"},
                 row{"envelope-click:50", "clicks"}, row{"dropouts:6", "dropouts"},
                 row{"repeat-block:6", "dropouts"}, row{"missing-block:6", "dropouts"},
                 row{"zipper:10", "pitch steps"}, row{"cutoff-steps:0.1", "cutoff steps"},
                 row{"boot-pop:0.05", "pop at boot"});
    CAPTURE(r.fault);
    const auto result = judged(4, r.fault);
    const auto& f = find(result, r.key);
    CHECK(f.outcome == verdict::fail);
    REQUIRE(f.measured);
    CHECK_FALSE(f.reason.empty());
}

TEST_CASE("clicks check: sizes and rates read the same at every rate", "[checks][clicks]") {
    const double rate = GENERATE(44100.0, 96000.0, 192000.0);
    CAPTURE(rate);
    // A slide's click is a step; 200 mV under a note whose peak differs a little with the rate.
    const auto here = judged(4, "slide-click:0.2", rate);
    const auto there = judged(4, "slide-click:0.2", 48000.0);
    const auto& a = find(here, "largest click");
    const auto& b = find(there, "largest click");
    CHECK_THAT(a.measured->value,
               WithinAbs(b.measured->value, 2.0 * std::hypot(a.measured->standard_uncertainty,
                                                             b.measured->standard_uncertainty)));
    CHECK(a.measured->at.find("slide") != std::string::npos);
    CHECK(a.measured->where.has_value());
}

TEST_CASE("clicks check: the steps of a zipper are read as high and as many as they are",
          "[checks][clicks]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    CAPTURE(rate);
    // The pitch moves by 600 cents in 0.75 s and is looked at every 10 ms, rounded up to whole
    // blocks of 24 samples.
    const double block = 24.0 / rate;
    const double every = block * std::ceil(0.01 / block - 0.01);
    const auto r = judged(2, "zipper:10", rate);
    const auto& f = find(r, "pitch steps");
    REQUIRE(f.measured);
    CHECK_THAT(f.measured->value, WithinAbs(800.0 * every, 2.0 * f.measured->standard_uncertainty));
}

TEST_CASE("clicks check: silence and noise never pass", "[checks][clicks]") {
    const auto what = GENERATE(instead::nothing, instead::noise);
    unplugged nothing{what};
    const auto r = judged(nothing);
    CHECK(r.outcome() != verdict::pass);
    CHECK(find(r, "clicks").outcome != verdict::pass);
    CHECK(find(r, "dropouts").outcome != verdict::pass);
}

TEST_CASE("clicks check: a live bench, whose module has long been on, reads no pop",
          "[checks][clicks]") {
    const auto specs = all_specs();
    const auto module = read_expectations(CVRIG_DEMO "/ferrule.expectations.yaml", specs);
    auto desk = read_bench(CVRIG_DEMO "/desk.bench.yaml");
    desk.audio = audio_link_settings{};
    ferrule_link to_module{1, "boot-pop:1"};
    const run_filter filter{.checks = {"clicks"}, .settings = {{"mode", "tied"}}};
    const auto r = run(plan_run(module, desk, filter), to_module, module, desk, {}).checks.front();
    const auto& pop = find(r, "pop at boot");
    CHECK(pop.outcome == verdict::skipped);
    CHECK_FALSE(pop.reason.empty());
    CHECK(r.outcome() == verdict::pass);
    CHECK(find(r, "clicks").outcome == verdict::pass);
}
