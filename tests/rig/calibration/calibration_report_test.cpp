#include "rig/calibration/calibration_report.hpp"

#include <catch2/catch.hpp>

#include "rig/checks/check.hpp"
#include "stories.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;

namespace {

check_result result_of(const calibration_story& s) {
    static const auto m = read_expectations(CVRIG_DEMO "/ferrule.expectations.yaml", all_specs());
    static const auto b = read_bench(CVRIG_DEMO "/desk.bench.yaml");
    return as_check_result(s, m, b, {{"mode", "tied"}});
}

verdict verdict_of(const check_result& r, std::string_view name) {
    const auto* found = r.find(name);
    REQUIRE(found != nullptr);
    return found->outcome;
}

/// A unit that is in tune before, with constants that do not change.
calibration_story nothing_changes() {
    invented_calibration made;
    made.unit = {1.0, 0.0, 0.0};
    made.stored = [](const pitch_constants&) { return pitch_constants{0.0, 1.0}; };
    auto s = made.story();
    s.procedure.is_seen = true;
    return s;
}

}  // namespace

TEST_CASE("calibration report: a unit that is put in tune and keeps it passes in everything",
          "[calibration]") {
    auto s = invented_calibration{}.story();
    s.procedure.is_seen = true;
    const auto r = result_of(s);
    CHECK(r.outcome() == verdict::pass);
    CHECK_FALSE(r.likeliest);
    CHECK(r.plots.size() == 2);
}

TEST_CASE("calibration report: where nothing shows that new constants are kept, it does not pass",
          "[calibration]") {
    auto s = nothing_changes();
    const auto r = result_of(s);
    CHECK(r.outcome() == verdict::unsure);
    CHECK(verdict_of(r, "procedure") == verdict::pass);
    CHECK(verdict_of(r, "error") == verdict::pass);
    for (const auto* name : {"power cycle", "settings reset", "re-flash", "constants"}) {
        CAPTURE(name);
        CHECK(verdict_of(r, name) == verdict::unsure);
    }
    // Nor does a procedure of which nobody saw anything.
    s.procedure.is_seen = false;
    CHECK(verdict_of(result_of(s), "procedure") == verdict::unsure);
}

TEST_CASE("calibration report: a procedure that nobody saw is believed once the pitch has moved",
          "[calibration]") {
    auto s = invented_calibration{}.story();
    s.procedure.is_seen = false;
    CHECK(verdict_of(result_of(s), "procedure") == verdict::pass);
}

TEST_CASE("calibration report: a table that is wiped shows, though the line through it stays",
          "[calibration]") {
    auto s = invented_calibration{}.story();
    s.procedure.is_seen = true;
    auto& later = s.survived[1];
    for (auto& n : later.notes)
        n.error_cents += 2.0 * std::sin(n.at_volts * 3.14159265 / 2.0 * 3.0);
    CHECK(verdict_of(result_of(s), "settings reset") == verdict::fail);
    // By what the module tells, also where nobody hears it.
    auto told = invented_calibration{}.story();
    told.procedure.is_seen = true;
    told.after.told_table = {0.0, 0.0001, 0.0, 0.0, 0.0};
    for (auto& m : told.survived) m.told_table = told.after.told_table;
    CHECK(verdict_of(result_of(told), "constants") == verdict::pass);
    told.survived[1].told_table = {0.0, 0.0, 0.0, 0.0, 0.0};
    CHECK(verdict_of(result_of(told), "constants") == verdict::fail);
}

TEST_CASE("calibration report: a module that sounds no pitch any more fails by its own constants",
          "[calibration]") {
    invented_calibration made;
    made.stored = [](const pitch_constants& right) {
        return pitch_constants{1000.0 * right.offset_volts,
                               1.0 + 1000.0 * (right.gain_volts_per_code - 1.0)};
    };
    auto s = made.story();
    s.after.notes.clear();
    s.after.problem = "No pitch was heard.";
    s.survived.clear();
    const auto r = result_of(s);
    CHECK(r.outcome() == verdict::fail);
    CHECK(verdict_of(r, "error") == verdict::unsure);
    REQUIRE(r.likeliest);
    CHECK(r.likeliest->cause == "wrong scale");
    // A cable that was pulled out in the middle is not the module's fault.
    s.after.told = s.before.told;
    CHECK(result_of(s).outcome() == verdict::unsure);
}

TEST_CASE(
    "calibration report: what the bench does not know is in the error, but not in what is kept",
    "[calibration]") {
    auto s = invented_calibration{}.story();
    s.procedure.is_seen = true;
    s.u_common_cents = 2.0;  // k times that is more than the 3 cents allow
    const auto r = result_of(s);
    CHECK(verdict_of(r, "error") == verdict::unsure);
    CHECK(verdict_of(r, "power cycle") == verdict::pass);
}
