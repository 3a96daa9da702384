#include "rig/checks/latency.hpp"

#include <catch2/catch.hpp>

#include <cmath>

#include "rig/checks/gate_timing.hpp"
#include "rig/checks/latency_readings.hpp"
#include "tests/rig/gate_timing_fixture.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using namespace cvrig::literals;
using Catch::Matchers::WithinAbs;

TEST_CASE("latency check: what was built into the module is what is read, at every rate",
          "[checks][latency]") {
    // The demo module looks at its gate at the end of each block of 24 samples and sounds two
    // blocks later; its attack is a straight line that leaves 0 one sample before that. So the
    // delay is uniform from 24 to 47 samples: mean 35.5, deviation 24 / sqrt(12) (JCGM 100:2008,
    // 4.3.7), at whatever rate it runs.
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    CAPTURE(rate);
    const auto r = judged_by("latency", 3, "", rate);
    CHECK(r.outcome() == verdict::pass);
    CHECK(r.attempts == 1);
    CHECK(r.plots.size() == 2);
    struct row {
        const char* key;
        double samples;
    };
    for (const auto& [key, samples] : {row{"delay", 35.5}, row{"jitter", 24.0 / std::sqrt(12.0)},
                                       row{"worst", 47.0}, row{"block", 24.0}}) {
        const auto& f = found(r, key);
        REQUIRE(f.measured);
        CAPTURE(key, f.measured->value * rate, f.measured->standard_uncertainty * rate);
        CHECK_THAT(f.measured->value,
                   WithinAbs(samples / rate, 2.0 * f.measured->standard_uncertainty + 1.0 / rate));
        CHECK(f.measured->largest() != nullptr);
    }
    CHECK(found(r, "worst").all.size() >= 40);
    CHECK(found(r, "worst").all.front().where);
    CHECK(r.plots.front().note.find("jitter of one block") != std::string::npos);
}

TEST_CASE("latency check: each fault fails the demand that is about it", "[checks][latency]") {
    struct row {
        const char* fault;
        const char* key;
    };
    const auto r = GENERATE(row{"latency:4", "delay"}, row{"strike-jitter:4", "jitter"},
                            row{"strike-jitter:4", "peak to peak"}, row{"gate-poll:3", "block"},
                            row{"latency:6", "worst"}, row{"pitch-late:3.3", "pitch lead"},
                            row{"pitch-early-read:200", "pitch lead"});
    CAPTURE(r.fault, r.key);
    CHECK(found(judged_by("latency", 2, r.fault), r.key).outcome == verdict::fail);
}

TEST_CASE("latency check: silence and hiss leave every demand open", "[checks][latency]") {
    const double hiss = GENERATE(0.0, 0.05);
    deaf_link nothing{hiss};
    const auto r = judged_by("latency", nothing);
    CHECK(r.findings.size() == 6);
    for (const auto& f : r.findings) {
        CAPTURE(f.name);
        CHECK(f.outcome == verdict::unsure);
        CHECK_FALSE(f.reason.empty());
    }
}

TEST_CASE("latency check: a live bench adds what its alignment leaves open", "[checks][latency]") {
    const auto module = read_expectations(CVRIG_DEMO "/ferrule.expectations.yaml", all_specs());
    auto desk = read_bench(CVRIG_DEMO "/desk.bench.yaml");
    const auto& wanted = *std::ranges::find(module.checks, "latency", &check_expectation::name);
    const auto u = [&] {
        return alignment_uncertainty({module, desk, wanted, wanted.in.front(), 1}).value();
    };
    CHECK(u() == 0.0);
    desk.audio = audio_link_settings{};
    desk.audio->rate = sample_rate{48000.0};
    desk.loop = loop_back{};
    // A rectangular distribution of one sample: JCGM 100:2008, 4.3.7.
    CHECK_THAT(u(), WithinAbs(1.0 / 48000.0 / std::sqrt(12.0), 1e-12));
    desk.loop.reset();
    CHECK_THAT(u(), WithinAbs(256.0 / 48000.0 / std::sqrt(12.0), 1e-12));
}

namespace {

std::vector<lead_answer> answers(const std::vector<double>& late_needed_ms, double wrong_up_to_ms,
                                 bool sampled) {
    std::vector<lead_answer> out;
    for (const double needed : late_needed_ms)
        out.push_back({seconds{-0.0035}, sampled, seconds{0.0035 + 1e-3 * needed}, seconds{1e-5}});
    for (const double lead : {8.0, 5.0, 3.0, 2.0, 1.5, 1.0})
        out.push_back({seconds{1e-3 * lead}, sampled && lead <= wrong_up_to_ms,
                       seconds{!sampled && lead <= wrong_up_to_ms ? 0.004 : 0.0}, seconds{1e-5}});
    return out;
}

}  // namespace

TEST_CASE("latency check: the lead is read whether a module follows its pitch or samples it",
          "[checks][latency]") {
    const std::vector<double> block{0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5, 0.55, 0.6, 0.65};
    const auto follows = needed_lead(answers(block, 0.0, false), 180_Hz, 2.0);
    REQUIRE(follows);
    CHECK_THAT(follows->lead.value(), WithinAbs(0.7e-3, 1e-6));
    const auto samples = needed_lead(answers(block, 2.0, true), 180_Hz, 2.0);
    REQUIRE(samples);
    CHECK_THAT(samples->lead.value(), WithinAbs(2.5e-3, 1e-9));
    CHECK_THAT(samples->budget.front().standard_uncertainty, WithinAbs(0.25e-3, 1e-9));
    const auto never = needed_lead(answers(block, 9.0, false), 180_Hz, 2.0);
    REQUIRE(never);
    CHECK_THAT(never->lead.value() - 2.0 * never->budget.front().standard_uncertainty,
               WithinAbs(12e-3, 1e-9));  // 8 ms before the gate, and wrong for 4 ms all the same
    // One stale note is none of the lead's business, two are.
    auto stale = answers(block, 0.0, false);
    stale[10].kept = true;
    CHECK_THAT(needed_lead(stale, 180_Hz, 2.0)->lead.value(), WithinAbs(0.7e-3, 1e-6));
    stale[11].kept = true;
    CHECK(needed_lead(stale, 180_Hz, 2.0)->lead.value() > 5e-3);
    CHECK_FALSE(needed_lead(std::vector<lead_answer>(5), 180_Hz, 2.0));
}

TEST_CASE("latency check: its gates come at random but repeatable times, within its share of sound",
          "[checks][latency]") {
    const auto module = read_expectations(CVRIG_DEMO "/ferrule.expectations.yaml", all_specs());
    const auto desk = read_bench(CVRIG_DEMO "/desk.bench.yaml");
    const auto& wanted = *std::ranges::find(module.checks, "latency", &check_expectation::name);
    const auto plan = [&](int attempt) {
        return latency_check().plan({module, desk, wanted, wanted.in.front(), attempt});
    };
    double length_s = 0.0;
    for (const auto& p : plan(1))
        for (const auto& s : p.steps) length_s += s.length.value();
    CHECK(length_s < 7.0);
    CHECK(plan(1).front().steps == plan(1).front().steps);
    CHECK(plan(2).front().steps.size() > plan(1).front().steps.size());
    CHECK_FALSE(plan(2).front().steps.front() == plan(1).front().steps.front());
    CHECK(plan(1).front().purpose.find("seed") != std::string::npos);
}
