#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <limits>

#include "rig/history/baseline.hpp"
#include "rig/history/schema.hpp"
#include "rig/history/stored_run.hpp"
#include "rig/history/trend.hpp"
#include "tests/rig/history/new_history.hpp"

using namespace cvrig;
using namespace cvrig::history;

namespace {

void check_equal(const evidence::told_finding& a, const evidence::told_finding& b) {
    CHECK(a.name == b.name);
    CHECK(a.outcome == b.outcome);
    CHECK(a.reason == b.reason);
    CHECK(a.demand == b.demand);
    CHECK(a.lower == b.lower);
    CHECK(a.upper == b.upper);
    CHECK(a.does_not_apply == b.does_not_apply);
    REQUIRE(a.measured.has_value() == b.measured.has_value());
    REQUIRE(a.answered.has_value() == b.answered.has_value());
    if (a.measured) {
        CHECK(a.measured->value == b.measured->value);
        CHECK(a.measured->standard_uncertainty == b.measured->standard_uncertainty);
        CHECK(a.measured->unit == b.measured->unit);
        CHECK(a.measured->at == b.measured->at);
        CHECK(a.measured->measurement_version == b.measured->measurement_version);
    }
    if (a.answered) {
        CHECK(a.answered->text == b.answered->text);
        CHECK(a.answered->probability == b.answered->probability);
        CHECK(a.answered->probability_of_expected == b.answered->probability_of_expected);
    }
}

}  // namespace

TEST_CASE("history: a run is read as it was filed", "[history]") {
    new_history h;
    const auto told = small_run("1.0.1");
    const auto run = h.add("1.0.1");
    CHECK(run.build.name == "1.0.1");
    CHECK(run.build.commit == "v1-1.0.1");
    CHECK(run.build.size_bytes == 65536);
    CHECK(run.passed == 3);
    CHECK(run.report_folder == "/reports/1.0.1");
    const auto read = read_run(*h.db, run);
    CHECK(read.outcome == told.outcome);
    CHECK(read.link == told.link);
    CHECK(read.coverage_factor == told.coverage_factor);
    CHECK(read.sound_s == told.sound_s);
    REQUIRE(read.checks.size() == told.checks.size());
    for (std::size_t c = 0; c < told.checks.size(); ++c) {
        CHECK(read.checks[c].check == told.checks[c].check);
        CHECK(read.checks[c].choice == told.checks[c].choice);
        REQUIRE(read.checks[c].findings.size() == told.checks[c].findings.size());
        for (std::size_t f = 0; f < told.checks[c].findings.size(); ++f)
            check_equal(read.checks[c].findings[f], told.checks[c].findings[f]);
    }
    REQUIRE(read.takes.size() == 1);
    CHECK(read.takes[0].length_s == 12.5);
    CHECK(read.takes[0].problems == std::vector<std::string>{"too short"});
    const auto place = h.db->query("SELECT folder FROM takes");
    CHECK(place.front().text(0) == "/reports/1.0.1/takes");
}

TEST_CASE("history: a run that is filed twice is there once", "[history]") {
    new_history h;
    const auto first = file_run_alone(*h.db, small_run("1"), keyed("same"));
    const auto second = file_run_alone(*h.db, small_run("1"), keyed("same"));
    CHECK(first.is_new);
    CHECK_FALSE(second.is_new);
    CHECK(first.id == second.id);
    CHECK(list_runs(*h.db, {}).size() == 1);
    CHECK(h.db->query("SELECT count(*) FROM findings").front().whole(0) == 3);
}

TEST_CASE("history: what is not committed was never there", "[history]") {
    new_history h;
    {
        transaction all{*h.db};
        static_cast<void>(file_run(*h.db, small_run("1"), keyed("1")));
    }
    CHECK(list_runs(*h.db, {}).empty());
    CHECK(h.db->query("SELECT count(*) FROM builds").front().whole(0) == 0);
}

TEST_CASE("history: equal names and files are one build, one unit, one bench", "[history]") {
    new_history h;
    h.add("1.0.1");
    static_cast<void>(file_run_alone(*h.db, small_run("1.0.1"), keyed("again")));
    h.add("1.0.2");
    const auto builds = list_builds(*h.db, std::nullopt, 10);
    REQUIRE(builds.size() == 2);
    CHECK(builds[0].build.name == "1.0.2");
    CHECK(builds[1].runs.size() == 2);
    CHECK(h.db->query("SELECT count(*) FROM units").front().whole(0) == 1);
    CHECK(h.db->query("SELECT count(*) FROM benches").front().whole(0) == 1);
    CHECK(h.db->query("SELECT count(*) FROM demands").front().whole(0) == 3);
}

TEST_CASE("history: a run is found by number, build, version, commit, hash and as the latest",
          "[history]") {
    new_history h;
    const auto one = h.add("1.0.1");
    const auto two = h.add("1.0.2", 7.0);
    CHECK(find_run(*h.db, "1").id == one.id);
    CHECK(find_run(*h.db, "latest").id == two.id);
    CHECK(find_run(*h.db, "1.0.1").id == one.id);
    CHECK(find_run(*h.db, "v1-1.0.1").id == one.id);
    CHECK(find_run(*h.db, one.build.sha256).id == one.id);
    CHECK(find_run(*h.db, "1.0.0").id == two.id);
    CHECK_THROWS_WITH(find_run(*h.db, "9"),
                      Catch::Contains("holds no run 9") && Catch::Contains("latest is 2"));
    CHECK_THROWS_WITH(find_run(*h.db, "_______"), Catch::Contains("holds no run"));
    const auto failed = list_runs(
        *h.db, {.module = {}, .unit = {}, .bench = {}, .build = {}, .outcome = verdict::fail});
    REQUIRE(failed.size() == 1);
    CHECK(failed[0].id == two.id);
    CHECK(list_runs(*h.db, {.module = "Other", .unit = {}, .bench = {}, .build = {}}).empty());
}

TEST_CASE("history: the baseline of a subject is the run that was approved last", "[history]") {
    new_history h;
    const auto one = h.add("1.0.1"), two = h.add("1.0.2"), bad = h.add("1.0.3", 9.0);
    const subject desk{"Ferrule", "7", "desk"};
    CHECK_FALSE(baseline_of(*h.db, desk));
    approve(*h.db, one, {"2026-11-30T11:00:00Z", "ann", ""});
    approve(*h.db, two, {"2026-11-30T12:00:00Z", "ann", "released"});
    REQUIRE(baseline_of(*h.db, desk));
    CHECK(baseline_of(*h.db, desk)->run.id == two.id);
    CHECK_FALSE(baseline_of(*h.db, {"Ferrule", "8", "desk"}));
    CHECK_FALSE(baseline_of(*h.db, {"Ferrule", "7", "other"}));
    CHECK_THROWS_WITH(approve(*h.db, bad, {}),
                      Catch::Contains("only a run in which nothing failed"));
    approve(*h.db, bad, {"2026-11-30T13:00:00Z", "ann", "known and waived"});
    CHECK(list_baselines(*h.db).size() == 3);
    CHECK(list_baselines(*h.db).front().note == "known and waived");
}

TEST_CASE("history: a trend holds one unit's readings, oldest first, with its change",
          "[history]") {
    new_history h;
    for (int i = 0; i < 10; ++i) h.add(fmt::format("b{}", i), i < 6 ? 3.0 + 0.01 * i : 8.0);
    auto other = small_run("b3", 99.0);
    other.unit.back() = '8';
    static_cast<void>(file_run_alone(*h.db, other, keyed("other unit")));
    const auto demand = find_demand(*h.db, "Ferrule", "tracking tied error");
    const subject desk{"Ferrule", "7", "desk"};
    const auto t = read_trend(*h.db, demand, desk);
    REQUIRE(t.points.size() == 10);
    CHECK(t.points.front().build == "b0");
    CHECK(t.points.front().upper == 5.0);
    CHECK_FALSE(t.is_cut);
    REQUIRE(t.changes.size() == 1);
    CHECK(t.points[t.changes[0].point].build == "b6");
    CHECK_THAT(t.changes[0].after, Catch::WithinAbs(8.0, 1e-9));
    const auto cut = read_trend(*h.db, demand, desk, 4);
    CHECK(cut.is_cut);
    CHECK(cut.points.front().build == "b6");
    CHECK(cut.changes.empty());
    CHECK_THROWS_WITH(read_trend(*h.db, demand, {"Ferrule", "9", "desk"}),
                      Catch::Contains("no reading"));
    CHECK_THROWS_WITH(find_demand(*h.db, "Ferrule", "tracking"),
                      Catch::Contains("may be any of 2"));
    CHECK_THROWS_WITH(find_demand(*h.db, "Ferrule", "nonsense"),
                      Catch::Contains("no reading 'nonsense'"));
}

TEST_CASE("history: readings that are measured in another way are not held against each other",
          "[history]") {
    new_history h;
    for (int i = 0; i < 8; ++i) {
        auto run = small_run(fmt::format("b{}", i), i < 4 ? 3.0 : 4.9);
        for (auto& c : run.checks)
            for (auto& f : c.findings)
                if (f.measured) f.measured->measurement_version = i < 4 ? 1 : 2;
        static_cast<void>(file_run_alone(*h.db, run, keyed(run.build_name)));
    }
    const auto t =
        read_trend(*h.db, find_demand(*h.db, "", "tracking error"), {"Ferrule", "7", "desk"});
    CHECK(t.points.size() == 8);
    CHECK(t.is_measured_otherwise);
    CHECK(t.changes.empty());
}

namespace {

/// A run as the first cvrig with a history filed it.
void file_as_schema_1(database& in) {
    in.execute(
        "INSERT INTO builds (module, name, version, commit_text, sha256, size_bytes, first_seen) "
        "VALUES ('Ferrule', '1.0.1', '', '', 'abc', 4096, '2026-01-02T03:04:05Z')");
    in.execute("INSERT INTO units (module, name) VALUES ('Ferrule', '7')");
    in.execute("INSERT INTO benches (name, link) VALUES ('desk', 'program')");
    in.execute(
        "INSERT INTO runs (run_key, build, unit, bench, started, filed, verdict, passed, failed, "
        "unsure, skipped, coverage_factor, expectations_sha256, bench_sha256, rig_version, "
        "report_folder) VALUES ('old', 1, 1, 1, '2026-01-02T03:04:05Z', '2026-01-02T03:05:05Z', "
        "'fail', 3, 1, 0, 0, 2.0, 'e', 'b', '0.1', 'reports')");
}

}  // namespace

TEST_CASE("history: a run that was filed late stands where it was played", "[history]") {
    new_history h;
    const auto add = [&](const std::string& build, const std::string& started) {
        auto run = small_run(build);
        run.started = started;
        static_cast<void>(file_run_alone(*h.db, run, keyed(build)));
    };
    add("second", "2026-03-02T10:00:00Z");
    add("third", "2026-03-03T10:00:00Z");
    add("first", "2026-03-01T10:00:00Z");
    CHECK(find_run(*h.db, "latest").build.name == "third");
    CHECK(list_runs(*h.db, {}).back().build.name == "first");
    const auto t =
        read_trend(*h.db, find_demand(*h.db, "", "tracking error"), {"Ferrule", "7", "desk"});
    REQUIRE(t.points.size() == 3);
    CHECK(t.points.front().build == "first");
    CHECK(t.points.back().build == "third");
    CHECK_THROWS_WITH(find_run(*h.db, ""), Catch::Contains("without a name"));
}

TEST_CASE("history: every older schema is brought up to date with what it holds", "[history]") {
    for (int old = 1; old < newest_schema(); ++old) {
        const history_place place;
        {
            const auto db = place.open_as_it_is();
            migrate(*db, old);
            CHECK(schema_of(*db) == old);
            file_as_schema_1(*db);
        }
        const auto db = open_history(place.address(), opening::to_write);
        CHECK(schema_of(*db) == newest_schema());
        static_cast<void>(file_run_alone(*db, small_run("1.0.2"), keyed("new")));
        const auto runs = list_runs(*db, {});
        REQUIRE(runs.size() == 2);
        CHECK(runs[1].build.name == "1.0.1");
        CHECK(runs[1].failed == 1);
        CHECK_FALSE(runs[1].is_partial);
        CHECK(list_baselines(*db).empty());
    }
}

TEST_CASE("history: a newer schema is refused and left as it is", "[history]") {
    new_history h;
    h.add("1.0.1");
    h.db->execute("UPDATE cvrig_schema SET version = 99");
    CHECK_THROWS_WITH(open_history(h.address(), opening::to_write),
                      Catch::Contains("written by a newer cvrig (schema 99"));
    CHECK(schema_of(*h.db) == 99);
    CHECK(list_runs(*h.db, {}).size() == 1);
}

TEST_CASE("history: another program's tables are left alone", "[history]") {
    const history_place place;
    place.open_as_it_is()->execute("CREATE TABLE runs (x BIGINT)");
    CHECK_THROWS_WITH(open_history(place.address(), opening::to_write),
                      Catch::Contains("tables of something else"));
    CHECK_THROWS_WITH(open_history(place.address(), opening::to_write),
                      Catch::Contains("tables of something else"));
}

TEST_CASE("history: where nothing was filed, there is nothing to read", "[history]") {
    const history_place place;
    CHECK_THROWS_WITH(open_history(place.address(), opening::to_read),
                      Catch::Contains("There is no history at"));
}

TEST_CASE("history: every number is read as it was written", "[history]") {
    new_history h;
    h.db->execute("CREATE TABLE numbers (id BIGINT, x DOUBLE PRECISION)");
    // The ends of what a double holds, and decimals that no double holds. From memory: IEEE 754.
    const std::vector<double> all{0.1,     -1.0 / 3.0, 1e-300, 5e-324, 1.7976931348623157e308,
                                  65536.0, -0.0};
    std::int64_t id = 0;
    for (const double x : all)
        h.db->execute("INSERT INTO numbers (id, x) VALUES ($1, $2)", {++id, x});
    const auto rows = h.db->query("SELECT x FROM numbers ORDER BY id");
    REQUIRE(rows.size() == all.size());
    for (std::size_t i = 0; i < all.size(); ++i) CHECK(rows[i].number(0) == all[i]);
    h.db->execute("INSERT INTO numbers (id, x) VALUES ($1, $2)",
                  {std::numeric_limits<std::int64_t>::max(), std::monostate{}});
    const auto last = h.db->query("SELECT id, x FROM numbers ORDER BY id DESC LIMIT 1").front();
    CHECK(last.whole(0) == std::numeric_limits<std::int64_t>::max());
    CHECK(last.is_null(1));
}

TEST_CASE("history: a text is never taken for SQL, and keeps its letters", "[history]") {
    new_history h;
    const std::string name = "it's \"7\"; DROP TABLE runs; -- $1 \xC3\xA9 \\ %";
    const auto run = h.add(name);
    CHECK(run.build.name == name);
    CHECK(find_run(*h.db, name).id == run.id);
}
