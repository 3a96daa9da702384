// Limits that follow the readings of an approved run.

#include "rig/run/baseline.hpp"

#include <catch2/catch.hpp>

#include <algorithm>

#include "rig/checks/check.hpp"
#include "rig/expectations/baseline_limit.hpp"
#include "rig/expectations/limit.hpp"
#include "rig/platform/files.hpp"
#include "rig/report/phrases.hpp"
#include "rig/run/judging.hpp"
#include "rig/run/kept_run.hpp"
#include "rig/run/runner.hpp"
#include "tests/rig/expectations/files.hpp"
#include "tests/rig/simple_module.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

limit read_as(std::string_view text, dimension unit) {
    const auto l = parse_baseline_limit(text, unit, "key");
    REQUIRE(l);
    if (!*l) FAIL(l->error());
    return **l;
}

std::string refused_as(std::string_view text, dimension unit) {
    const auto l = parse_baseline_limit(text, unit, "key");
    REQUIRE(l);
    REQUIRE_FALSE(*l);
    return l->error();
}

limit known(std::string_view text, dimension unit, double value, double u = 0.0) {
    return resolved(read_as(text, unit), value, u, "build 1.0.3");
}

finding judged_by(limit allowed, const std::vector<double>& values, double u = 0.1) {
    finding f;
    f.name = "error";
    const auto unit = allowed.unit;
    f.allowed = std::move(allowed);
    for (const double v : values) f.all.push_back(make_reading(v, unit, {{"estimator", u}}));
    set_against_baseline(f, 2.0);
    return f;
}

const std::string file_beginning =
    "format: cvrig expectations 1\nmodule: Bass\npitch: {at 0 V: C2, per octave: 1 V}\n"
    "drive:\n  pitch: {from: 0 V, to: 4 V}\n  gate: {low: 0 V, high: 5 V}\n"
    "listen: [left, right]\nsettings:\n  mode: {values: [tied, wide]}\nchecks:\n";

std::vector<std::string> complaints_about(const std::string& check) {
    const scratch_file file{file_beginning + check};
    std::vector<std::string> out;
    try {
        (void)read_expectations(file.path(), all_specs());
    } catch (const user_error& e) {
        for (const auto& c : e.complaints())
            out.push_back(std::to_string(c.where.line) + ":" + std::to_string(c.where.column) +
                          ": " + c.sentence);
    }
    return out;
}

baseline_reading of_level(const std::string& mode, double value) {
    return {"level", {{"mode", mode}}, "level", value, 0.05, "7", "1.0.3"};
}

}  // namespace

TEST_CASE("a limit that follows a baseline is read in three forms", "[baseline]") {
    const auto within = read_as(" within  2 cent of baseline", dimension::cents);
    CHECK(within.text == "within 2 cent of baseline");
    CHECK(within.lacks_baseline());
    CHECK(within.of_baseline->tolerance == 2.0);
    CHECK(within.of_baseline->limits_above);
    CHECK(within.of_baseline->limits_below);
    const auto above = read_as("at most 1 dB above baseline", dimension::dbu);
    CHECK(above.of_baseline->limits_above);
    CHECK_FALSE(above.of_baseline->limits_below);
    CHECK_FALSE(read_as("at most 3 % below baseline", dimension::hertz).of_baseline->limits_above);
    CHECK_FALSE(parse_baseline_limit("within 2 cent", dimension::cents, "key"));
}

TEST_CASE("what is no limit of a baseline is refused in a sentence", "[baseline]") {
    CHECK_THAT(refused_as("within 2 V of baseline", dimension::cents), Contains("is a voltage"));
    CHECK_THAT(refused_as("within 3 % of baseline", dimension::dbu),
               Contains("takes a percentage of a level in dB"));
    CHECK_THAT(refused_as("within 1 dBu of baseline", dimension::dbu),
               Contains("wants a level difference in dB, such as 'within "));
    CHECK_THAT(refused_as("within 0 cent of baseline", dimension::cents),
               Contains("needs a tolerance above 0"));
    CHECK_THAT(refused_as("at most -1 cent above baseline", dimension::cents),
               Contains("needs a tolerance from 0 up"));
    for (const auto* text : {"as baseline", "baseline", "at least 2 cent above baseline",
                             "within of baseline", "20 cent within 3 % of baseline"})
        CHECK_FALSE(refused_as(text, dimension::cents).empty());
    CHECK_THAT(refused_as("better than baseline", dimension::cents),
               Contains("one of: within X of baseline, at most X above baseline"));
}

TEST_CASE("a baseline's reading makes the limit, and the limit says so", "[baseline]") {
    const auto l = known("within 2 cent of baseline", dimension::cents, 3.1, 0.2);
    CHECK_THAT(*l.lower, WithinRel(1.1, 1e-12));
    CHECK_THAT(*l.upper, WithinRel(5.1, 1e-12));
    CHECK(l.nominal == 3.1);
    CHECK(l.text == "within 2 cent of baseline (3.10 cent, build 1.0.3)");
    CHECK(known("within 2 cent of baseline", dimension::cents, 1.0 / 3.0).text ==
          "within 2 cent of baseline (0.3333 cent, build 1.0.3)");
    CHECK_FALSE(l.lacks_baseline());
    const auto above = known("at most 1 dB above baseline", dimension::dbu, -70.0);
    CHECK_FALSE(above.lower);
    CHECK(above.upper == -69.0);
    const auto below = known("at most 10 % below baseline", dimension::seconds, 0.5);
    CHECK_THAT(*below.lower, WithinRel(0.45, 1e-12));
    CHECK_FALSE(below.upper);
}

TEST_CASE("per cent are of the reading, but of a percentage they are points", "[baseline]") {
    const auto time = known("within 3 % of baseline", dimension::seconds, 0.020);
    CHECK_THAT(*time.lower, WithinRel(0.0194, 1e-12));
    CHECK_THAT(*time.upper, WithinRel(0.0206, 1e-12));
    const auto share = known("within 3 % of baseline", dimension::percent, 50.0);
    CHECK(*share.lower == 47.0);
    const auto pitch = known("within 100 cent of baseline", dimension::hertz, 440.0);
    // A4 and its neighbours in equal temperament, ISO 16:1975 and any table of it.
    CHECK_THAT(*pitch.upper, WithinAbs(466.16, 0.005));
    CHECK_THAT(*pitch.lower, WithinAbs(415.30, 0.005));
    CHECK(known("within 3 % of baseline", dimension::seconds, 0.0).lacks_baseline());
    CHECK(known("within 3 % of baseline", dimension::seconds, NAN).lacks_baseline());
}

TEST_CASE("the baseline's own uncertainty is a part of the reading's", "[baseline]") {
    const auto l = known("within 2 cent of baseline", dimension::cents, 3.0, 0.4);
    // Root sum of squares of 0.3 and 0.4 (JCGM 100:2008, 5.1.2): U = 2 * 0.5 = 1 cent.
    const auto f = judged_by(l, {3.9}, 0.3);
    CHECK(f.outcome == verdict::pass);
    CHECK_THAT(f.measured->standard_uncertainty, WithinRel(0.5, 1e-12));
    REQUIRE(f.measured->budget.size() == 2);
    CHECK(f.measured->budget[1].name == "baseline");
    CHECK(f.measured->budget[1].standard_uncertainty == 0.4);
    CHECK(judged_by(l, {4.1}, 0.3).outcome == verdict::unsure);
    CHECK(judged_by(l, {5.9}, 0.3).outcome == verdict::unsure);
    CHECK(judged_by(l, {6.1}, 0.3).outcome == verdict::fail);
    CHECK(judge(make_reading(4.1, dimension::cents, {{"x", 0.3}}), l, 2.0) == verdict::unsure);
}

TEST_CASE("of many readings the largest is set against the baseline, whatever its sign",
          "[baseline]") {
    const auto l = known("within 2 cent of baseline", dimension::cents, 3.1);
    CHECK(judged_by(l, {0.2, 3.0, -1.0}).outcome == verdict::pass);
    CHECK(judged_by(l, {0.2, -1.0, 0.5}).outcome == verdict::unsure);
    CHECK(judged_by(l, {0.2, 0.3, 0.5}).outcome == verdict::fail);
    const auto other_way = judged_by(l, {0.2, -4.0});
    CHECK(other_way.outcome == verdict::pass);
    CHECK(other_way.measured->value == -4.0);
    CHECK_THAT(*other_way.allowed->lower, WithinRel(-5.1, 1e-12));
    CHECK_THAT(*other_way.allowed->upper, WithinRel(-1.1, 1e-12));
    CHECK(judged_by(l, {0.2, -6.0}).outcome == verdict::fail);
    // One reading has a sign that counts.
    CHECK(judged_by(l, {-3.1}).outcome == verdict::fail);
}

TEST_CASE("one badly known reading among many is no pass", "[baseline]") {
    auto l = known("within 2 cent of baseline", dimension::cents, 3.1);
    finding f;
    f.allowed = l;
    f.all = {make_reading(3.0, dimension::cents, {{"x", 0.1}}),
             make_reading(-2.0, dimension::cents, {{"x", 4.0}}, "the odd one")};
    set_against_baseline(f, 2.0);
    CHECK(f.outcome == verdict::unsure);
    CHECK(f.measured->at == "the odd one");
    f.all[1] = make_reading(NAN, dimension::cents, {{"x", 0.1}});
    f.allowed = l;
    set_against_baseline(f, 2.0);
    CHECK(f.outcome == verdict::unsure);
}

TEST_CASE("one-sided, better is never worse", "[baseline]") {
    const auto l = known("at most 2 cent above baseline", dimension::cents, -3.1);
    CHECK(judged_by(l, {0.2, 0.1}).outcome == verdict::pass);
    CHECK(judged_by(l, {0.2, 4.8}).outcome == verdict::pass);
    CHECK(judged_by(l, {0.2, -4.8}).outcome == verdict::pass);
    CHECK(judged_by(l, {0.2, 5.4}).outcome == verdict::fail);
    CHECK(judged_by(l, {0.2, -5.4}).outcome == verdict::fail);
}

TEST_CASE("of many levels the highest counts, and no sign is turned", "[baseline]") {
    const auto l = known("within 1 dB of baseline", dimension::dbu, -70.0);
    CHECK(judged_by(l, {-95.0, -70.2}).outcome == verdict::pass);
    CHECK(judged_by(l, {-95.0, -68.0}).outcome == verdict::fail);
    const auto below = known("at most 1 dB below baseline", dimension::dbu, 8.0);
    CHECK(judged_by(below, {9.0, 7.5}).outcome == verdict::pass);
    CHECK(judged_by(below, {9.0, 6.5}).outcome == verdict::fail);
}

TEST_CASE("without a baseline a demand is skipped, never passed, and keeps its reading",
          "[baseline]") {
    const auto demanded = read_as("within 2 cent of baseline", dimension::cents);
    const auto f = judged_by(demanded, {0.1, -0.3});
    CHECK(f.outcome == verdict::skipped);
    CHECK(f.measured->value == -0.3);
    CHECK_THAT(f.reason, Contains("There is no baseline that 'within 2 cent of baseline' could") &&
                             Contains("cvrig baseline approve RUN"));
    CHECK(judge(make_reading(0.0, dimension::cents, {}), demanded, 2.0) == verdict::unsure);
    finding by_fact;
    by_fact.allowed = demanded;
    by_fact.measured = make_reading(0.0, dimension::cents, {});
    by_fact.outcome = verdict::fail;
    check_result result;
    result.findings = {by_fact};
    std::vector<check_result> all{result};
    skip_without_baseline(all);
    CHECK(all[0].findings[0].outcome == verdict::skipped);
    CHECK_FALSE(all[0].findings[0].does_not_apply);
}

TEST_CASE("a file says which limits follow a baseline, for each setting if it likes",
          "[baseline]") {
    const scratch_file file{file_beginning +
                            "  level: {level: {tied: within 1 dB of baseline, otherwise: at least "
                            "0 dBu}, dc offset: at most 5 mV above baseline}\n"
                            "  console: {resets: at most 1 above baseline}\n"};
    const auto m = read_expectations(file.path(), all_specs());
    CHECK(m.checks[0].find<limit>("level", {{"mode", "tied"}})->lacks_baseline());
    CHECK_FALSE(m.checks[0].find<limit>("level", {{"mode", "wide"}})->of_baseline);

    const baseline_reading noise{"noise", {}, "floor", -70.0, 0.1, "7"};
    const std::vector<baseline_reading> all{noise,
                                            of_level("wide", 9.0),
                                            of_level("tied", 8.0),
                                            {"console", {}, "resets", 2.0, 0.0, "7"}};
    const auto known_now = with_baseline(m, all);
    const auto* tied = known_now.checks[0].find<limit>("level", {{"mode", "tied"}});
    CHECK(tied->lower == 7.0);
    CHECK(tied->upper == 9.0);
    CHECK(known_now.checks[0].find<limit>("level", {{"mode", "wide"}})->lower == 0.0);
    CHECK(known_now.checks[0].find<limit>("dc offset", {{"mode", "tied"}})->lacks_baseline());
    CHECK(known_now.checks[1].find<limit>("resets", m.checks[1].in.at(0))->upper == 3.0);
    CHECK(known_now.checks[1].find<limit>("resets", {})->text ==
          "at most 1 above baseline (2, run 7)");

    const auto used = followed(m, all);
    REQUIRE(used.size() == 2);
    CHECK(std::ranges::any_of(used, [](const auto& r) { return r.name == "resets"; }));
    CHECK(std::ranges::any_of(used, [](const auto& r) { return r.value == 8.0; }));
}

TEST_CASE("what cannot follow a baseline is refused with its place", "[baseline]") {
    CHECK(complaints_about("  level: {clipped samples: at most 1 above baseline}\n").empty());
    CHECK(complaints_about("  console: {resets: within 1 of baseline}\n") ==
          std::vector<std::string>{
              "11:21: Of a baseline, 'resets' takes 'at most ... above baseline', and here is "
              "'within 1 of baseline'."});
    CHECK(complaints_about("  clicks: {largest click: within 1 dB of baseline}\n") ==
          std::vector<std::string>{
              "11:27: 'largest click' is set against every single event, for which a baseline has "
              "no readings; give it a limit of its own, such as 'between 3 dB and 8 dB'."});
    CHECK_THAT(complaints_about("  level: {level: within 1 V of baseline}\n").front(),
               Contains("11:18: '1 V' is a voltage"));
}

TEST_CASE("what to do next without a baseline is to approve one", "[baseline]") {
    run_result run;
    run.expectations_file = "bass.yaml";
    check_result result;
    result.findings = {judged_by(read_as("within 2 cent of baseline", dimension::cents), {1.0})};
    run.checks = {result};
    const auto steps = report::next_steps(run);
    REQUIRE(steps.size() == 1);
    CHECK_THAT(steps[0], Contains("one demand lacks one") && Contains("cvrig baseline approve"));
}

TEST_CASE("explain says what follows the baseline", "[baseline]") {
    const scratch_file file{
        file_beginning +
        "  level: {level: within 1 dB of baseline, dc offset: at most 3 mV above "
        "baseline, peak: at most 5 % below baseline}\n"};
    const auto m = read_expectations(file.path(), all_specs());
    const auto& keys = m.checks[0].keys;
    const auto words = [&](const char* key) {
        return in_words(std::get<limit>(*keys.at(key).otherwise));
    };
    CHECK(words("level") == "that of the baseline, give or take 1 dB");
    CHECK(words("dc offset") == "at most that of the baseline and 3 mV more");
    CHECK(words("peak") == "at least that of the baseline less 5 %");
}

TEST_CASE("a module is judged by its baseline, take by take", "[baseline]") {
    auto m = simple_expectations();
    check_expectation level;
    level.name = "level";
    level.in = {{}};
    level.keys["level"] = everywhere(read_as("within 0.5 dB of baseline", dimension::dbu));
    m.checks.push_back(level);
    const auto b = simple_bench();
    const auto run_with = [&](simple_module& module, const module_expectations& demanded) {
        simple_link link{module};
        const auto plan = plan_run(demanded, b);
        return run(plan, link, demanded, b, {}).checks.at(0).findings.at(0);
    };
    simple_module module;
    const auto first = run_with(module, m);
    REQUIRE(first.outcome == verdict::skipped);
    CHECK(module.plays == 1);  // no retake could mend that
    const baseline_reading was{
        "level", {}, "level", first.measured->value, first.measured->standard_uncertainty, "1"};
    const auto followed_file = with_baseline(m, std::vector{was});
    CHECK(run_with(module, followed_file).outcome == verdict::pass);
    module.right_gain = 1.2;  // 1.58 dB
    CHECK(run_with(module, followed_file).outcome == verdict::fail);
}

TEST_CASE("the readings that a run followed are kept with its takes", "[baseline]") {
    const temporary_folder folder;
    kept_run asked;
    asked.unit = "7";
    asked.baseline = {of_level("tied", 8.0)};
    keep_run(folder.path(), asked, {});
    const auto again = read_kept_run(folder.path());
    REQUIRE(again.baseline.size() == 1);
    const auto& r = again.baseline.front();
    CHECK(r.check == "level");
    CHECK(r.settings == setting_choice{{"mode", "tied"}});
    CHECK(r.value == 8.0);
    CHECK(r.standard_uncertainty == 0.05);
    CHECK(r.build == "1.0.3");
}
