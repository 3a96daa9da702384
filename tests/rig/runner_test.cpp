#include "rig/run/runner.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <random>
#include <set>
#include <utility>

#include "rig/report/clip_file.hpp"
#include "rig/run/plain_name.hpp"
#include "tests/rig/simple_module.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::WithinAbs;

namespace {

limit at_most(double upper, dimension unit) {
    auto l = between(0.0, upper, unit);
    l.lower.reset();
    return l;
}

module_expectations with_checks() {
    auto m = simple_expectations();
    check_expectation tracking;
    tracking.name = "tracking";
    tracking.in = {{}};
    tracking.keys["notes"] = everywhere(
        note_stair{volts{0.0}, volts{2.0}, volts{0.25}, note_stair::direction::up_and_down});
    tracking.keys["error"] = everywhere(between(-5.0, 5.0, dimension::cents));
    tracking.keys["scale"] = everywhere(between(-0.3, 0.3, dimension::percent));
    tracking.keys["hysteresis"] = everywhere(at_most(1.0, dimension::cents));
    check_expectation level;
    level.name = "level";
    level.in = {{}};
    level.keys["level"] = everywhere(between(-10.0, 10.0, dimension::dbu));
    check_expectation stereo;
    stereo.name = "stereo";
    stereo.in = {{}};
    stereo.keys["gain difference"] = everywhere(between(-0.1, 0.1, dimension::decibels));
    m.checks = {tracking, level, stereo};
    return m;
}

struct ran {
    run_outcome outcome;
    simple_module module;
};

ran run_with(simple_module module) {
    const auto m = with_checks();
    const auto b = simple_bench();
    const auto plan = plan_run(m, b);
    simple_link to_module{module};
    auto outcome = run(plan, to_module, m, b, {});
    return {std::move(outcome), std::move(module)};
}

verdict outcome_of(const ran& r, const std::string& check) {
    for (const auto& c : r.outcome.checks)
        if (c.check == check) return c.outcome();
    FAIL("no such check");
    return verdict::unsure;
}

const finding& find(const ran& r, const std::string& check, const std::string& name) {
    for (const auto& c : r.outcome.checks)
        for (const auto& f : c.findings)
            if (c.check == check && f.name == name) return f;
    throw std::runtime_error{"no such finding"};
}

}  // namespace

TEST_CASE("a module that follows its voltage exactly passes in one take", "[run][runner]") {
    const auto r = run_with({});
    CHECK(outcome_of(r, "tracking") == verdict::pass);
    CHECK(outcome_of(r, "level") == verdict::pass);
    CHECK(outcome_of(r, "stereo") == verdict::pass);
    CHECK(r.module.plays == 1);
}

TEST_CASE("the pitch error that is read is the one that was built in", "[run][runner]") {
    const auto r = run_with({.detuned = cents{3.0}});
    const auto& f = find(r, "tracking", "error");
    // The stair is exact, so only the estimator's scatter remains: three of its standard
    // uncertainties.
    CHECK_THAT(f.measured->value, WithinAbs(3.0, 3.0 * f.measured->standard_uncertainty));
    CHECK(f.measured->standard_uncertainty < 0.2);
    CHECK(f.outcome == verdict::pass);
}

TEST_CASE("a detuned module fails tracking and nothing else", "[run][runner]") {
    const auto r = run_with({.detuned = cents{8.0}});
    CHECK(outcome_of(r, "tracking") == verdict::fail);
    CHECK(find(r, "tracking", "scale").outcome == verdict::pass);
    CHECK(outcome_of(r, "level") == verdict::pass);
    CHECK(outcome_of(r, "stereo") == verdict::pass);
}

TEST_CASE("a quieter right output fails stereo", "[run][runner]") {
    const auto r = run_with({.right_gain = 0.97});
    CHECK(outcome_of(r, "stereo") == verdict::fail);
    // 20 lg 0.97; tolerance: the bench gain's uncertainty.
    CHECK_THAT(find(r, "stereo", "gain difference").measured->value, WithinAbs(-0.2646, 0.02));
}

TEST_CASE("a dead right output fails and is not merely unsure", "[run][runner]") {
    const auto r = run_with({.right_gain = 0.0});
    CHECK(outcome_of(r, "stereo") == verdict::fail);
    CHECK(outcome_of(r, "level") == verdict::fail);
}

TEST_CASE("a reading on its limit is taken again and stays unsure", "[run][runner]") {
    const auto r = run_with({.detuned = cents{5.0}});
    CHECK(outcome_of(r, "tracking") == verdict::unsure);
    CHECK(r.module.plays == 3);  // the take and two retakes, and no more
    REQUIRE(r.outcome.takes.size() == 3);
    CHECK(r.outcome.takes[2].attempt == 3);
    CHECK(r.outcome.takes[2].checks == std::vector<std::string>{"tracking"});
}

TEST_CASE("a take with a problem is taken again and never judged", "[run][runner]") {
    const auto r =
        run_with({.spoil = [](take& t) { t.problems.push_back("The cable fell out."); }});
    for (const auto& c : r.outcome.checks) {
        CHECK(c.outcome() == verdict::unsure);
        for (const auto& f : c.findings)
            CHECK(f.reason.find("The cable fell out.") != std::string::npos);
    }
    CHECK(r.module.plays == 3);
}

TEST_CASE("one bad take among good ones does not spoil the verdict", "[run][runner]") {
    const auto r = run_with({.spoil = [first = true](take& t) mutable {
        if (first) t.problems.push_back("A passing fault.");
        first = false;
    }});
    CHECK(outcome_of(r, "tracking") == verdict::pass);
    CHECK(r.module.plays == 2);
}

TEST_CASE("silence, noise and a constant are never a pass", "[run][runner]") {
    const auto with = [](const std::function<float(std::size_t)>& sample) {
        return run_with({.spoil = [sample](take& t) {
            for (auto& jack : t.heard)
                for (std::size_t i = 0; i < jack.size(); ++i) jack[i] = sample(i);
        }});
    };
    unsigned state = 1;
    const auto noise = [&state](std::size_t) {
        state = state * 1664525U + 1013904223U;
        return static_cast<float>(state) / 2147483648.0F - 1.0F;
    };
    const auto silence = with([](std::size_t) { return 0.0F; });
    const auto constant = with([](std::size_t) { return 1.0F; });
    const auto loud = with(noise);
    for (const auto* r : {&silence, &constant, &loud}) {
        CHECK(outcome_of(*r, "tracking") != verdict::pass);
    }
    // Noise that is the same on both outputs is the same: only what cannot be compared must stay
    // open.
    CHECK(outcome_of(silence, "stereo") == verdict::unsure);
    CHECK(outcome_of(constant, "stereo") == verdict::unsure);
    CHECK(outcome_of(silence, "level") != verdict::pass);
    CHECK(outcome_of(constant, "level") != verdict::pass);
}

TEST_CASE("a plan beyond the bench's voltage limits is refused before anything sounds",
          "[run][plan]") {
    auto m = with_checks();
    m.checks[0].keys["notes"] =
        everywhere(note_stair{volts{0.0}, volts{6.0}, volts{1.0}, note_stair::direction::up});
    CHECK_THROWS_AS(plan_run(m, simple_bench()), user_error);
}

TEST_CASE("level and stereo share one held note", "[run][plan]") {
    auto m = with_checks();
    const auto both = plan_run(m, simple_bench()).sound();
    m.checks.pop_back();
    CHECK_THAT(plan_run(m, simple_bench()).sound().value(), WithinAbs(both.value(), 1e-9));
}

TEST_CASE("a filter that leaves nothing, or names no check, is refused", "[run][plan]") {
    const auto m = with_checks();
    CHECK_THROWS_AS(plan_run(m, simple_bench(), {.checks = {"trackin"}, .settings = {}}),
                    user_error);
    CHECK_THROWS_AS(plan_run(m, simple_bench(), {.checks = {}, .settings = {{"mode", "tied"}}}),
                    user_error);
}

TEST_CASE("two outputs that only hiss are not compared", "[run][runner][stereo]") {
    simple_module dead;
    dead.spoil = [](take& t) {
        std::minstd_rand hiss{7};
        std::uniform_real_distribution<float> volts_of{-3e-4F, 3e-4F};
        for (auto& jack : t.heard)
            for (float& v : jack) v = volts_of(hiss);
    };
    const auto r = run_with(std::move(dead));
    const auto& gain = find(r, "stereo", "gain difference");
    CHECK(gain.outcome == verdict::unsure);
    CHECK(gain.reason == "Neither output gives more than it does without a note.");
    CHECK(outcome_of(r, "level") == verdict::fail);
}

TEST_CASE("the stair's pitch moves together with its gate, as a sequencer's does",
          "[run][tracking]") {
    const auto m = with_checks();
    const auto b = simple_bench();
    const auto* stair = find_check("tracking");
    const auto passages = stair->plan({m, b, m.checks[0], {}});
    const auto& steps = passages[0].steps;
    int with_gate = 0;
    for (std::size_t i = 1; i < steps.size(); ++i) {
        if (steps[i].pitch == steps[i - 1].pitch) continue;
        CHECK((steps[i].gate && !steps[i - 1].gate));
        ++with_gate;
    }
    // Nine notes up and nine down; the first has none before it, and the top one sounds twice.
    CHECK(with_gate == 16);
}

TEST_CASE("a skipped take is skipped with its reason, and not played again", "[run][runner]") {
    const auto r = run_with({.spoil = [](take& t) {
        t.heard.clear();
        t.skipped = "It needs a hand.";
    }});
    for (const auto& c : r.outcome.checks) {
        CHECK(c.outcome() == verdict::skipped);
        for (const auto& f : c.findings) CHECK(f.reason == "It needs a hand.");
    }
    CHECK(r.module.plays == 1);
    CHECK(r.outcome.takes.front().skipped == "It needs a hand.");
    CHECK(r.outcome.sound.value() == 0.0);
}

TEST_CASE("a skipped retake leaves what was read before", "[run][runner]") {
    const auto r = run_with({.detuned = cents{5.0}, .spoil = [first = true](take& t) mutable {
                                 if (!std::exchange(first, false)) t.skipped = "It needs a hand.";
                             }});
    CHECK(outcome_of(r, "tracking") == verdict::unsure);
    CHECK(find(r, "tracking", "error").measured.has_value());
    CHECK(r.module.plays == 2);  // the skipped retake is the last one
}

TEST_CASE("a reset in a take fails the run, and nothing else of that take is judged",
          "[run][runner]") {
    const auto r = run_with(
        {.spoil = [](take& t) { t.module_faults.push_back("The module restarted by itself."); }});
    CHECK(outcome_of(r, "console") == verdict::fail);
    const auto& resets = find(r, "console", "resets");
    CHECK(resets.reason ==
          "Take 1: The module restarted by itself. 2 more restarts stand with their takes.");
    CHECK(resets.measured->value == 3.0);
    CHECK(outcome_of(r, "tracking") == verdict::unsure);
    CHECK(outcome_of(r, "level") == verdict::unsure);
    CHECK(r.outcome.takes.front().module_faults.size() == 1);
}

TEST_CASE("a reset in one take leaves the retake to be judged, and fails all the same",
          "[run][runner]") {
    const auto r = run_with({.spoil = [first = true](take& t) mutable {
        if (std::exchange(first, false)) t.module_faults.push_back("It restarted.");
    }});
    CHECK(outcome_of(r, "tracking") == verdict::pass);
    CHECK(outcome_of(r, "console") == verdict::fail);
}

TEST_CASE("a restart that nobody could have heard leaves the run unsure, and the takes judged",
          "[run][runner]") {
    const auto r = run_with({.spoil = [first = true](take& t) mutable {
        if (std::exchange(first, false)) t.module_doubts.push_back("The console was gone.");
    }});
    CHECK(outcome_of(r, "tracking") == verdict::pass);
    CHECK(outcome_of(r, "console") == verdict::unsure);
    const auto& resets = find(r, "console", "resets");
    CHECK(resets.reason == "Take 1: The console was gone.");
    CHECK_FALSE(resets.measured.has_value());
}

TEST_CASE("a restart outweighs a doubt, and each is told with its own take", "[run][runner]") {
    const auto r = run_with({.spoil = [take_number = 0](take& t) mutable {
        ++take_number;
        if (take_number == 1) t.module_doubts.push_back("The console was gone.");
        if (take_number <= 2) t.module_faults.push_back("It restarted.");
    }});
    const auto& resets = find(r, "console", "resets");
    CHECK(resets.outcome == verdict::fail);
    CHECK(resets.reason == "Take 1: It restarted. One more restart stands with its take.");
}

TEST_CASE("retakes are played in the order that the caller wants", "[run][runner]") {
    const auto m = with_checks();
    const auto b = simple_bench();
    simple_module module{.detuned = cents{5.0}};
    simple_link to_module{module};
    int ordered = 0;
    run_watch watch;
    watch.order = [&](run_plan plan, const setting_choice& now) {
        CHECK(now == plan_run(m, b).takes.back().choice);
        ++ordered;
        return plan;
    };
    const auto plan = plan_run(m, b);
    static_cast<void>(run(plan, to_module, m, b, watch));
    CHECK(ordered == 3);  // two retakes, and then none is left
}

TEST_CASE("a demand that a check passes over in silence is skipped with a reason",
          "[run][runner]") {
    const auto m = with_checks();
    const auto b = simple_bench();
    auto plan = plan_run(m, b, {.checks = {"level"}, .settings = {}});
    simple_module module;
    simple_link to_module{module};
    auto& planned = plan.takes.at(0);
    const auto back = to_module.play(planned.played.volts, planned.choice, 1, 1);
    check forgetful = *find_check("level");
    forgetful.judge = [](const check_request&, std::span<const heard_passage>) {
        return check_result{};
    };
    planned.checks.at(0).what = &forgetful;
    const auto results = judge_take(planned, back, m, b);
    REQUIRE(results.size() == 1);
    REQUIRE(results[0].findings.size() == 1);
    const auto& f = results[0].findings.front();
    CHECK(f.name == "level");
    CHECK(f.outcome == verdict::skipped);
    CHECK_FALSE(f.reason.empty());
    CHECK(f.allowed.has_value());
    CHECK(results[0].outcome() == verdict::skipped);
}

TEST_CASE("a demand that does not apply leaves the outcome to the others", "[run]") {
    finding met;
    met.outcome = verdict::pass;
    finding other;
    other.outcome = verdict::skipped;
    other.does_not_apply = true;
    check_result r;
    r.findings = {met, other};
    CHECK(r.outcome() == verdict::pass);
    r.findings = {other};
    CHECK(r.outcome() == verdict::skipped);
    run_result run;
    r.findings = {met, other};
    run.checks = {r};
    CHECK(run.count(verdict::skipped) == 0);
    CHECK(run.count(verdict::pass) == 1);
}

TEST_CASE("as many restarts as the file allows do not fail the run", "[run][runner]") {
    auto m = with_checks();
    check_expectation console;
    console.name = "console";
    console.in = {{}};
    console.keys["resets"] = everywhere(at_most(1.0, dimension::count));
    m.checks.push_back(console);
    const auto b = simple_bench();
    for (const int restarts : {1, 2}) {
        simple_module module{.spoil = [left = restarts](take& t) mutable {
            if (left-- > 0) t.module_faults.push_back("It restarted.");
        }};
        simple_link to_module{module};
        const auto outcome = run(plan_run(m, b), to_module, m, b, {});
        const auto found = std::ranges::find(outcome.checks, "console", &check_result::check);
        REQUIRE(found != outcome.checks.end());
        CHECK(found->outcome() == (restarts == 1 ? verdict::pass : verdict::fail));
    }
}

TEST_CASE("names of files are plain, and of two settings never the same", "[run]") {
    CHECK(plain_name("mode=tied,attempt=1") == "mode=tied,attempt=1");
    CHECK(plain_name("slide knob=down") == "slide_knob=down");
    const std::vector<std::string> alike{"mode=\u0436", "mode=\u0448", "mode=\u97F3", "mode=a b",
                                         "mode=a-b",    "mode=a_b",    "mode=a/b",    "mode=a\\b"};
    std::set<std::string> names;
    for (const auto& text : alike) {
        const auto name = plain_name(text);
        CAPTURE(name);
        CHECK(names.insert(name).second);
        CHECK(std::ranges::all_of(name, [](char c) {
            return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                   std::string_view{"-_=,."}.find(c) != std::string_view::npos;
        }));
    }
    check_result one, other;
    one.check = other.check = "pattern";
    one.choice = {{"mode", "\u0436"}};
    other.choice = {{"mode", "\u0448"}};
    const sound_clip clip{.name = "step-1", .rate = sample_rate{48000.0}, .channels = {}};
    CHECK(report::clip_file(one, clip) != report::clip_file(other, clip));
}
