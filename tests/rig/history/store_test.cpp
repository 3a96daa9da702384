#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <fstream>

#include "rig/history/baseline.hpp"
#include "rig/history/schema.hpp"
#include "rig/history/sqlite_database.hpp"
#include "rig/history/stored_run.hpp"
#include "rig/history/trend.hpp"
#include "rig/platform/files.hpp"
#include "tests/rig/history/store_fixture.hpp"

using namespace cvrig;
using namespace cvrig::history;

namespace {

struct new_history {
    temporary_folder folder;
    std::string file{(folder.path() / "deep" / "history.sqlite").string()};
    std::unique_ptr<database> db{open_history(file, opening::to_write)};

    stored_run add(const std::string& build, double error_cents = 3.0) {
        const auto filed = file_run_alone(*db, small_run(build, error_cents), keyed(build));
        return *run_of_id(*db, filed.id);
    }
};

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
    CHECK_THROWS_WITH(approve(*h.db, bad, {}), Catch::Contains("only a run that passed"));
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

TEST_CASE("history: every older schema is brought up to date with what it holds", "[history]") {
    for (int old = 1; old < newest_schema(); ++old) {
        temporary_folder folder;
        const auto file = (folder.path() / "old.sqlite").string();
        {
            const auto db = open_sqlite(file, opening::to_write);
            migrate(*db, old);
            CHECK(schema_of(*db) == old);
            static_cast<void>(file_run_alone(*db, small_run("1.0.1"), keyed("1")));
        }
        const auto db = open_history(file, opening::to_read);
        CHECK(schema_of(*db) == newest_schema());
        CHECK(list_runs(*db, {}).size() == 1);
        CHECK(list_baselines(*db).empty());
    }
}

TEST_CASE("history: a newer schema is refused and left as it is", "[history]") {
    new_history h;
    h.add("1.0.1");
    h.db->execute("UPDATE cvrig_schema SET version = 99");
    CHECK_THROWS_WITH(open_history(h.file, opening::to_write),
                      Catch::Contains("written by a newer cvrig (schema 99"));
    CHECK(schema_of(*h.db) == 99);
    CHECK(list_runs(*h.db, {}).size() == 1);
}

TEST_CASE("history: what is no history is refused and left as it is", "[history]") {
    temporary_folder folder;
    const auto file = folder.path() / "letter.txt";
    const std::string text =
        "Dear Ann, this is not a database, though it is as long as one might begin.\n";
    write_file_atomically(file, text);
    CHECK_THROWS_WITH(open_history(file.string(), opening::to_write),
                      Catch::Contains("is no history of cvrig"));
    std::ifstream in{file};
    const std::string after{std::istreambuf_iterator<char>{in}, {}};
    CHECK(after == text);
    CHECK_THROWS_WITH(open_history(folder.path().string(), opening::to_read),
                      Catch::Contains("is a folder"));
    CHECK_THROWS_WITH(open_history((folder.path() / "none").string(), opening::to_read),
                      Catch::Contains("There is no history at"));
    const auto foreign = (folder.path() / "foreign.sqlite").string();
    open_sqlite(foreign, opening::to_write)->execute("CREATE TABLE runs (x BIGINT)");
    CHECK_THROWS_WITH(open_history(foreign, opening::to_write),
                      Catch::Contains("tables of something else"));
}

TEST_CASE("history: a full disk loses the run that did not fit, and no other", "[history]") {
    new_history h;
    h.add("1.0.1");
    // SQLite's own limit stands for the disk: it answers with the same code, SQLITE_FULL.
    h.db->execute("PRAGMA max_page_count = 1");
    auto large = small_run("1.0.2");
    large.checks.front().findings.front().reason = std::string(1 << 20, 'x');
    CHECK_THROWS_WITH(file_run_alone(*h.db, large, keyed("2")),
                      Catch::Contains("the disk is full"));
    CHECK(list_runs(*h.db, {}).size() == 1);
    h.db->execute("PRAGMA max_page_count = 1000000");
    static_cast<void>(file_run_alone(*h.db, large, keyed("2")));
    CHECK(list_runs(*h.db, {}).size() == 2);
}

TEST_CASE("history: a store that another program keeps locked is told, and filed into afterwards",
          "[history]") {
    new_history h;
    const auto other = open_sqlite(h.file, opening::to_write, std::chrono::milliseconds{50});
    {
        transaction writing{*h.db};
        CHECK_THROWS_WITH(file_run_alone(*other, small_run("1"), keyed("1")),
                          Catch::Contains("keeps it locked"));
        // Who only reads does not wait for a writer.
        CHECK(list_runs(*other, {}).empty());
    }
    CHECK(file_run_alone(*other, small_run("1"), keyed("1")).is_new);
}

TEST_CASE("history: a damaged file is told, and what can be read is not changed", "[history]") {
    new_history h;
    for (int i = 0; i < 50; ++i) h.add(fmt::format("b{}", i));
    h.db->execute("PRAGMA wal_checkpoint(TRUNCATE)");
    h.db.reset();
    {
        std::fstream file{h.file, std::ios::in | std::ios::out | std::ios::binary};
        file.seekp(4096);
        file << std::string(64 * 1024, '\xA5');
    }
    CHECK_THROWS_WITH(list_runs(*open_history(h.file, opening::to_write), {}),
                      Catch::Contains("it is damaged"));
}
