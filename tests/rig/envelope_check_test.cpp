#include "rig/checks/envelope.hpp"

#include <fmt/format.h>
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>

#include "demo/specimen.hpp"
#include "rig/run/runner.hpp"
#include "tests/matrix/ferrule_link.hpp"

using namespace cvrig;
using Catch::Matchers::WithinAbs;
using cvrig::testing::ferrule_link;

namespace {

/// A module whose output is not plugged in.
class unplugged : public cvrig::link {
public:
    take play(const stimulus& sent, const setting_choice& choice, int number,
              int attempt) override {
        ++plays;
        auto back = module_.play(sent, choice, number, attempt);
        for (auto& jack : back.heard) std::ranges::fill(jack, 0.0F);
        return back;
    }
    [[nodiscard]] std::string description() const override { return "nothing"; }

    int plays{0};

private:
    ferrule_link module_{1, ""};
};

struct demo_files {
    module_expectations module;
    bench desk;
};

demo_files demo() {
    const auto specs = all_specs();
    return {read_expectations(CVRIG_DEMO "/ferrule.expectations.yaml", specs),
            read_bench(CVRIG_DEMO "/desk.bench.yaml")};
}

const run_filter in_tied{.checks = {"envelope"}, .settings = {{"mode", "tied"}}};

check_result judged(cvrig::link& to_module, const run_filter& filter = in_tied) {
    const auto f = demo();
    auto outcome = run(plan_run(f.module, f.desk, filter), to_module, f.module, f.desk, {});
    REQUIRE(outcome.checks.size() == 1);
    return std::move(outcome.checks.front());
}

check_result judged(unsigned unit, const std::string& fault, const run_filter& filter = in_tied) {
    ferrule_link to_module{unit, fault};
    return judged(to_module, filter);
}

const finding& find(const check_result& r, const std::string& key) {
    const auto found = std::ranges::find(r.findings, key, &finding::name);
    if (found == r.findings.end()) throw std::runtime_error{"no finding for " + key};
    return *found;
}

}  // namespace

TEST_CASE("envelope check: what was built into the module is what is read", "[checks][envelope]") {
    // The demo module's own figures, as its sources state them. A straight attack of 3 ms takes 0.8
    // of that from 10 to 90 %; 0.6 s of an exponential of 3.5 s are 0.6 / 3.5 * 8.6859 dB; the
    // filter's decay is 0.2 s * 10^(1.5 / 5) with 1.5 V at jack DECAY, as this unit's converter reads
    // them.
    const unsigned unit = GENERATE(1U, 5U, 9U);
    const auto jack = ferrule::make_specimen(unit).decay;
    const double decay_volts = 1.5 * jack.gain + jack.offset_volts;
    struct row {
        const char* key;
        double built_in;
    };
    const std::vector<row> rows{{"attack", 0.8 * 0.003},
                                {"decay", 3.5},
                                {"sustain", -0.6 / 3.5 * 20.0 / std::log(10.0)},
                                {"filter decay", 0.2 * std::pow(10.0, decay_volts / 5.0)},
                                {"release", 0.008},
                                {"gate length", 0.0},
                                {"strike again", 0.0}};
    CAPTURE(unit);
    const auto r = judged(unit, "");
    CHECK(r.outcome() == verdict::pass);
    CHECK(r.attempts == 1);
    for (const auto& [key, built_in] : rows) {
        CAPTURE(key);
        const auto& f = find(r, key);
        REQUIRE(f.measured);
        // Expanded uncertainty with the file's coverage factor.
        CHECK_THAT(f.measured->value, WithinAbs(built_in, 2.0 * f.measured->standard_uncertainty));
        CHECK(f.measured->largest() != nullptr);
    }
    // 75 ms of a release of 8 ms are 81 dB; noise of 0.1 mV under 2 V ends it a little earlier.
    CHECK(find(r, "tail").measured->value < -65.0);
}

TEST_CASE("envelope check: each fault fails the demand that is about it", "[checks][envelope]") {
    struct row {
        const char* fault;
        const char* key;
        double read;  // in the key's base unit
    };
    // What each fault makes of the figure that it spoils: the attack 0.8 * 8 ms; times by so many
    // per cent; 700 ms over 80 ms are 3.1293 doublings; 20 lg 0.05, from a level that 0.7 s
    // of decay have lowered by 1.74 dB; -20 lg 0.5.
    const auto r = GENERATE(row{"envelope-attack:5", "attack", 0.8 * 0.008},
                            row{"amplitude-decay:-30", "decay", 0.7 * 3.5},
                            row{"envelope-release:50", "release", 1.5 * 0.008},
                            row{"filter-decay:40", "filter decay", 1.4 * 0.2 * 1.99526},
                            row{"decay-follows-gate-length:10", "gate length", 34.75},
                            row{"tail-chopped:5", "tail", -24.28},
                            row{"envelope-click:50", "strike again", 6.02});
    CAPTURE(r.fault);
    const auto result = judged(4, r.fault);
    const auto& f = find(result, r.key);
    CHECK(f.outcome == verdict::fail);
    REQUIRE(f.measured);
    CHECK_THAT(f.measured->value, WithinAbs(r.read, 2.0 * f.measured->standard_uncertainty));
}

TEST_CASE("envelope check: in every mode the good build passes in one take", "[checks][envelope]") {
    const std::string mode = GENERATE("struck", "wide");
    CAPTURE(mode);
    const auto r = judged(2, "", {.checks = {"envelope"}, .settings = {{"mode", mode}}});
    CHECK(r.outcome() == verdict::pass);
    CHECK(r.attempts == 1);
    CHECK(r.plots.size() == 4);
}

TEST_CASE("envelope check: silence leaves every demand open, after two retakes",
          "[checks][envelope]") {
    unplugged silent;
    const auto r = judged(silent);
    CHECK(r.findings.size() == 8);
    for (const auto& f : r.findings) {
        CAPTURE(f.name);
        CHECK(f.outcome == verdict::unsure);
        CHECK_FALSE(f.reason.empty());
    }
    CHECK(silent.plays == 3);
}

TEST_CASE("envelope check: a gate that sticks never passes for a release", "[checks][envelope]") {
    const auto r = judged(1, "gate-stuck:60000");
    for (const char* key : {"release", "gate length", "tail", "strike again"}) {
        CAPTURE(key);
        CHECK(find(r, key).outcome != verdict::pass);
    }
}

TEST_CASE("envelope check: the tail is open where noise hides it", "[checks][envelope]") {
    // 50 mV of hiss under 2 V: the fall is lost some 30 dB down.
    const auto r = judged(1, "output-noise:0.05");
    CHECK(find(r, "tail").outcome == verdict::unsure);
    CHECK(find(r, "tail").reason.find("noise") != std::string::npos);
}

TEST_CASE("envelope check: a retake plays longer notes", "[checks][envelope]") {
    const auto f = demo();
    const auto& wanted = *std::ranges::find(f.module.checks, "envelope", &check_expectation::name);
    const auto sound = [&](int attempt) {
        const check_request request{f.module, f.desk, wanted, wanted.in.front(), attempt};
        double length_s = 0.0;
        for (const auto& p : envelope_check().plan(request))
            for (const auto& s : p.steps) length_s += s.length.value();
        return length_s;
    };
    // Short enough for a whole run within a minute, and bounded when it is taken again.
    CHECK(sound(1) < 2.5);
    CHECK(sound(2) > sound(1));
    CHECK(sound(3) < 3.0 * sound(1));
}
