// Reading reports again, and two of them side by side.

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "rig/evidence/compare.hpp"
#include "rig/expectations/user_error.hpp"
#include "rig/report/comparison_text.hpp"
#include "rig/report/json.hpp"
#include "tests/rig/sample_result.hpp"

using namespace cvrig;
using namespace cvrig::evidence;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinRel;
using nlohmann::json;

namespace {

told_finding reading_of(const std::string& name, double v, double u,
                        verdict outcome = verdict::pass) {
    told_finding f;
    f.name = name;
    f.outcome = outcome;
    f.measured = told_reading{v, u, dimension::cents, {}};
    return f;
}

told_finding answer_of(const std::string& text, double probability) {
    told_finding f;
    f.name = "slide";
    f.outcome = verdict::pass;
    f.answered = told_answer{text, probability, probability};
    return f;
}

told_run run_with(std::vector<told_finding> findings) {
    told_run r;
    r.module = "Ferrule";
    r.unit = "7";
    r.rig_version = "0.1.0";
    r.checks.push_back({"tracking", {{"mode", "tied"}, {"waveform", "saw"}}, std::move(findings)});
    return r;
}

std::string text_of(const comparison& c) {
    return comparison_text(c, {"here", "there"}, {.colour = false, .width = 200, .utf8 = true});
}

}  // namespace

TEST_CASE("a report is read as it was written", "[evidence]") {
    const auto result = testing::sample_result();
    const auto told = read_report(json_report(result), "report.json");
    CHECK_THAT(told.module, Catch::Matchers::StartsWith("Ferrule"));
    CHECK(told.outcome == result.outcome());
    REQUIRE(told.checks.size() == result.checks.size());
    std::size_t readings = 0;
    for (std::size_t c = 0; c < told.checks.size(); ++c) {
        REQUIRE(told.checks[c].findings.size() == result.checks[c].findings.size());
        for (std::size_t i = 0; i < told.checks[c].findings.size(); ++i) {
            const auto& now = told.checks[c].findings[i];
            const auto& was = result.checks[c].findings[i];
            CHECK(now.outcome == was.outcome);
            REQUIRE(now.measured.has_value() == was.measured.has_value());
            if (!was.measured || !now.measured->value) continue;
            ++readings;
            CHECK(now.measured->unit == was.measured->unit);
            // JSON carries every digit of a double.
            CHECK_THAT(*now.measured->value, WithinRel(was.measured->value, 1e-15));
            CHECK_THAT(*now.measured->standard_uncertainty,
                       WithinRel(was.measured->standard_uncertainty, 1e-15));
        }
    }
    CHECK(readings > 0);
}

TEST_CASE("a report that is none, newer, or lacks what is needed is refused in one sentence",
          "[evidence]") {
    const auto good = json::parse(json_report(testing::sample_result()));
    const auto check_refused = [](const json& all, const std::string& about) {
        CAPTURE(about);
        try {
            (void)read_report(all.dump(), "report.json");
            FAIL("it was taken");
        } catch (const user_error& e) {
            CHECK_THAT(e.what(), Contains("report.json") && Contains(about));
            CHECK(std::string{e.what()}.find('\n') == std::string::npos);
        }
    };
    for (const char* key : {"verdict", "module", "unit", "build", "bench", "expectations_file",
                            "bench_file", "rig_version", "started", "coverage_factor", "checks"}) {
        auto all = good;
        all.erase(key);
        check_refused(all, key);
        all[key] = json::array({1});
        check_refused(all, "");
    }
    auto all = good;
    all["format"] = "cvrig report 2";
    check_refused(all, "newer cvrig");
    all["format"] = "something else";
    check_refused(all, "no report");
    all = good;
    all["coverage_factor"] = 0;
    check_refused(all, "coverage_factor");
    all = good;
    auto& finding = all["checks"][0]["findings"][0];
    finding["verdict"] = "perhaps";
    check_refused(all, "perhaps");
    finding["verdict"] = "pass";
    finding["reading"] = {
        {"value", 1}, {"standard_uncertainty", 1}, {"quantity", "miles"}, {"at", ""}};
    check_refused(all, "miles");
    finding["reading"]["quantity"] = "volts";
    finding["reading"]["standard_uncertainty"] = -1;
    check_refused(all, "negative");
    CHECK_THROWS_AS(read_report("no json", "report.json"), user_error);
}

TEST_CASE("a run does not differ from itself", "[evidence]") {
    const auto told = read_report(json_report(testing::sample_result()), "report.json");
    const auto c = compare(told, told);
    CHECK_FALSE(c.differs());
    CHECK(c.circumstances.empty());
    CHECK(c.readings > 0);
    CHECK(c.answers > 0);
    CHECK_FALSE(c.farthest.has_value());
    CHECK(c.other_verdicts.empty());
    CHECK(c.only_first.empty());
}

TEST_CASE("what a baseline adds to a reading's uncertainty does not hide that it moved",
          "[evidence]") {
    // u of each reading alone is 0.3, of its limit's baseline 0.4: together 0.5.
    auto here = reading_of("error", 1.0, 0.5), there = reading_of("error", 2.0, 0.5);
    here.measured->u_baseline = there.measured->u_baseline = 0.4;
    const auto c = compare(run_with({here}), run_with({there}));
    REQUIRE(c.differing.size() == 1);
    // JCGM 100:2008, 5.1.2: 2 sqrt(0.3^2 + 0.3^2) = 0.8485.
    CHECK_THAT(*c.differing[0].times_allowed, WithinRel(1.0 / 0.848528137, 1e-8));
    CHECK(compare(run_with({reading_of("error", 1.0, 0.5)}),
                  run_with({reading_of("error", 2.0, 0.5)}))
              .differing.empty());
}

TEST_CASE("a measurement that cvrig changed is not compared", "[evidence]") {
    auto newer = reading_of("error", 9.0, 0.1);
    newer.measured->measurement_version = 2;
    const auto c = compare(run_with({reading_of("error", 1.0, 0.1)}), run_with({newer}));
    CHECK(c.differing.empty());
    REQUIRE(c.incomparable.size() == 1);
    CHECK_THAT(text_of(c), Contains("has changed how it measures this"));
}

TEST_CASE("readings differ from beyond k times both uncertainties on", "[evidence]") {
    // u of the difference: sqrt(0.3^2 + 0.4^2) = 0.5; with k = 2 readings may lie 1 cent apart
    // (JCGM 100:2008, 5.1.2).
    const auto apart = [](double by) {
        return compare(run_with({reading_of("error", 1.0, 0.3)}),
                       run_with({reading_of("error", 1.0 + by, 0.4)}));
    };
    CHECK(apart(0.99).differing.empty());
    CHECK(apart(-0.99).differing.empty());
    REQUIRE(apart(1.01).differing.size() == 1);
    CHECK(apart(-1.01).differs());
    CHECK_THAT(apart(3.0).differing[0].times_allowed.value(), WithinRel(3.0, 1e-12));
    CHECK_THAT(apart(-3.0).differing[0].difference.value(), WithinRel(-3.0, 1e-12));
    const auto text = text_of(apart(3.0));
    CHECK_THAT(text,
               Contains("tracking, error: 1.00 cent ± 0.60 cent here, 4.00 cent ± 0.80 cent there; "
                        "they differ by 3 cent, 3 times what both uncertainties allow."));
    CHECK_THAT(text_of(apart(-1234.0)), Contains("by 1234 cent, 1234 times"));
    CHECK_THAT(text_of(apart(0.5)),
               Contains("Of 1 reading none differs") && Contains("0.5 of what"));
}

TEST_CASE("the larger coverage factor of two runs counts", "[evidence]") {
    auto second = run_with({reading_of("error", 2.2, 0.4)});
    const auto first = run_with({reading_of("error", 1.0, 0.3)});
    CHECK(compare(first, second).differs());
    second.coverage_factor = 3.0;
    CHECK_FALSE(compare(first, second).differs());
    CHECK_FALSE(compare(second, first).differs());
}

TEST_CASE("counts without uncertainty differ if they are not equal", "[evidence]") {
    const auto c = compare(run_with({reading_of("resets", 0.0, 0.0)}),
                           run_with({reading_of("resets", 1.0, 0.0)}));
    CHECK(c.differs());
    CHECK_THAT(text_of(c), Contains("though neither is uncertain"));
}

TEST_CASE("what cannot be compared is named and leaves the question open", "[evidence]") {
    auto unknown = reading_of("error", 1.0, 0.3);
    SECTION("a reading that is not finite") {
        unknown.measured->value.reset();
    }
    SECTION("an unknown uncertainty") {
        unknown.measured->standard_uncertainty.reset();
    }
    SECTION("another quantity") {
        unknown.measured->unit = dimension::volts;
    }
    SECTION("no reading") {
        unknown.measured.reset();
        unknown.outcome = verdict::pass;
        unknown.reason = "the take was bad";
    }
    const auto c = compare(run_with({reading_of("error", 1.0, 0.3), reading_of("scale", 1.0, 0.3)}),
                           run_with({unknown, reading_of("scale", 1.0, 0.3)}));
    CHECK(c.readings == 1);
    REQUIRE(c.incomparable.size() == 1);
    CHECK_FALSE(c.differs());
    CHECK_FALSE(c.is_complete());
    CHECK_THAT(text_of(c), Contains("Not compared") && Contains("tracking, error"));
}

TEST_CASE("answers differ only where both are sure", "[evidence]") {
    const auto c = [](double p) {
        return compare(run_with({answer_of("starts again", 0.999)}),
                       run_with({answer_of("goes on", p)}));
    };
    CHECK(c(0.99).differs());
    CHECK_THAT(text_of(c(0.99)), Contains("starts again (99.9 %) here, goes on (99 %) there"));
    CHECK_FALSE(c(0.9).differs());
    CHECK_FALSE(c(0.9).is_complete());
    CHECK(compare(run_with({answer_of("goes on", 0.6)}), run_with({answer_of("goes on", 0.9)}))
              .answers == 1);
}

TEST_CASE("a pass that is a fail differs; what is unsure contradicts nothing", "[evidence]") {
    const auto c = [](verdict v) {
        return compare(run_with({reading_of("error", 1.0, 0.3, verdict::pass)}),
                       run_with({reading_of("error", 1.0, 0.3, v)}));
    };
    CHECK(c(verdict::fail).differs());
    CHECK_FALSE(c(verdict::unsure).differs());
    CHECK_FALSE(c(verdict::unsure).is_complete());
    CHECK_THAT(text_of(c(verdict::unsure)), Contains("tracking, error: pass here, unsure there"));
}

TEST_CASE("demands that only one run has are named", "[evidence]") {
    auto second = run_with({reading_of("error", 1.0, 0.3)});
    second.checks[0].choice["mode"] = "wide";
    const auto c = compare(run_with({reading_of("error", 1.0, 0.3)}), second);
    CHECK(c.compared() == 0);
    REQUIRE(c.only_first.size() == 1);
    REQUIRE(c.only_second.size() == 1);
    CHECK_FALSE(c.is_complete());
    // The setting that all share is not repeated.
    CHECK_THAT(text_of(c),
               Contains("tracking (mode wide), error") && Contains("Nothing could be compared"));
}

TEST_CASE("a report tells where its build comes from", "[evidence]") {
    auto all = json::parse(json_report(testing::sample_result()));
    const auto told = read_report(all.dump(), "report.json");
    CHECK(told.commit == "1.4.0-7-g3f9a2c1-dirty <i>");
    CHECK(told.version == "1.4.0-7");
    CHECK(told.size_bytes == 48640U);
    for (const auto* key : {"commit", "version", "size_bytes"}) all["build"].erase(key);
    const auto older = read_report(all.dump(), "report.json");
    CHECK(older.build_name == told.build_name);
    CHECK(older.commit.empty());
    CHECK(older.version.empty());
    CHECK_FALSE(older.size_bytes);
    all["build"]["size_bytes"] = -1;
    CHECK_THROWS_WITH(read_report(all.dump(), "report.json"),
                      Contains("'size_bytes' is no number"));
}

TEST_CASE("demands of one name are told apart by their order", "[evidence]") {
    const auto c =
        compare(run_with({reading_of("error", 1.0, 0.1), reading_of("error", 5.0, 0.1)}),
                run_with({reading_of("error", 1.0, 0.1), reading_of("error", 5.0, 0.1)}));
    CHECK(c.readings == 2);
    CHECK_FALSE(c.differs());
}

TEST_CASE("what else differs is said first", "[evidence]") {
    auto second = run_with({reading_of("error", 9.0, 0.1)});
    second.unit = "9";
    second.build_sha256 = std::string(64, 'a');
    second.rig_version = "0.2.0";
    second.bench_sha256 = "1";
    const auto text = text_of(compare(run_with({reading_of("error", 1.0, 0.1)}), second));
    CAPTURE(text);
    CHECK(text.find("unit: 7 here, 9 there") < text.find("tracking"));
    CHECK_THAT(text, Contains("firmware file: none here, aaaaaaaaaaaa there") &&
                         Contains("cvrig: 0.1.0 here, 0.2.0 there") && Contains("bench file"));
}

TEST_CASE("a long list of differences is set against chance", "[evidence]") {
    std::vector<told_finding> first, second;
    for (int i = 0; i < 100; ++i) {
        first.push_back(reading_of("error " + std::to_string(i), 0.0, 0.3));
        second.push_back(reading_of("error " + std::to_string(i), i < 3 ? 5.0 : 0.0, 0.4));
    }
    const auto c = compare(run_with(first), run_with(second));
    CHECK(c.differing.size() == 3);
    // A normal distribution has 4.55 % beyond two standard deviations (any table of it).
    CHECK_THAT(c.by_chance(), WithinRel(4.55, 1e-3));
    CHECK_THAT(text_of(c), Contains("4.6 of 100 readings"));
}
