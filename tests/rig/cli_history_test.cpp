// The real program files its runs, and answers from what it filed.

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "rig/history/database.hpp"
#include "tests/rig/cli_desk.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;

namespace {

struct history_desk {
    desk at;
    std::string file{(at.folder.path() / "data" / "history.sqlite").string()};

    [[nodiscard]] ended run(const std::string& build, const std::string& unit = "7",
                            std::vector<std::string> more = {}) const {
        std::vector<std::string> all{"run",          at.expectations.string(),
                                     "--bench",      at.bench.string(),
                                     "--report",     at.report.string(),
                                     "--build-name", build,
                                     "--unit",       unit,
                                     "--commit",     "v1-" + build,
                                     "--history",    file};
        all.insert(all.end(), more.begin(), more.end());
        return cvrig_with(all);
    }
    [[nodiscard]] ended ask(std::vector<std::string> words) const {
        words.insert(words.end(), {"--history", file});
        return cvrig_with(words);
    }
    [[nodiscard]] nlohmann::json json_of(std::vector<std::string> words) const {
        words.emplace_back("--json");
        const auto r = ask(std::move(words));
        CAPTURE(r.err);
        return nlohmann::json::parse(r.out);
    }
    /// Another module by its loudness: a level outside what is demanded.
    void demand_more() const {
        write_file_atomically(at.expectations, expectations_with("between 60 dBu and 70 dBu"));
    }
};

}  // namespace

TEST_CASE("program: a run is filed with its build and can be shown, listed and exported",
          "[cli][history]") {
    const history_desk d;
    const auto r = d.run("1.0.1");
    CAPTURE(r.err);
    REQUIRE(r.status == 0);
    CHECK_THAT(r.out, Contains("History: run 1 in " + d.file));
    const auto runs = d.json_of({"history"}).at("runs");
    REQUIRE(runs.size() == 1);
    CHECK(runs[0].at("build").at("commit") == "v1-1.0.1");
    CHECK(runs[0].at("unit") == "7");
    CHECK(runs[0].at("verdict") == "pass");
    // What the history tells of a reading is what the report told.
    const auto report = nlohmann::json::parse(read(d.at.report / "report.json"));
    const auto told = d.json_of({"show", "1.0.1"});
    CHECK(told.at("run").at("report") == true);
    const auto& first = report.at("checks")[0].at("findings")[0];
    const auto& filed = told.at("findings")[0];
    CHECK(filed.at("value") == first.at("reading").at("value"));
    CHECK(filed.at("standard_uncertainty") == first.at("reading").at("standard_uncertainty"));
    CHECK(filed.at("lower") == first.at("limit").at("lower"));
    const auto shown = d.ask({"show", "latest"});
    CHECK(shown.status == 0);
    CHECK_THAT(shown.out, Contains("Run 1: Ferrule 1.0.1") && Contains("commit v1-1.0.1"));
    const auto exported = d.ask({"export", "--format", "json"});
    CHECK(nlohmann::json::parse(exported.out).at("runs").size() == 1);
}

TEST_CASE("program: a run whose report was written over has none any more", "[cli][history]") {
    const history_desk d;
    REQUIRE(d.run("1").status == 0);
    REQUIRE(d.run("2").status == 0);
    CHECK(d.json_of({"show", "1"}).at("run").at("report") == false);
    CHECK(d.json_of({"show", "2"}).at("run").at("report") == true);
    CHECK_THAT(d.ask({"show", "1"}).out, Contains("is there no more"));
    CHECK_THAT(d.ask({"history", "--build", "%"}).out, Contains("No such run"));
}

TEST_CASE("program: two runs are compared, and other units are told", "[cli][history]") {
    const history_desk d;
    REQUIRE(d.run("1").status == 0);
    REQUIRE(d.run("2").status == 0);
    const auto same = d.ask({"compare", "1", "2"});
    CHECK(same.status == 0);
    CHECK_THAT(same.out, Contains("none differs beyond both uncertainties"));
    REQUIRE(d.run("2", "8").status == 0);
    const auto other = d.ask({"compare", "1", "3"});
    CHECK(other.status == 3);
    CHECK_THAT(other.err, Contains("two units (7 and 8): what differs may be the units"));
    CHECK(d.json_of({"compare", "1", "3"}).at("same_subject") == false);
    // Build 2 ran last on unit 8; but build 1 only on unit 7.
    CHECK(d.ask({"compare", "1", "v1-2"}).status == 0);
    CHECK(d.ask({"compare", "v1-2", "v1-1"}).status == 0);
}

TEST_CASE("program: a trend follows one unit, and a baseline is approved once it passed",
          "[cli][history]") {
    const history_desk d;
    for (const char* build : {"1", "2", "3"}) REQUIRE(d.run(build).status == 0);
    REQUIRE(d.run("3", "8").status == 0);
    const auto trend = d.json_of({"trend", "level level", "--unit", "7"});
    CHECK(trend.at("points").size() == 3);
    CHECK(trend.at("change_points").empty());
    CHECK(trend.at("reading").at("unit") == "dBu");
    CHECK_THAT(d.ask({"trend"}).out, Contains("level, level"));
    CHECK(d.ask({"trend", "no such"}).status == 2);
    CHECK(d.ask({"baseline", "list"}).status == 3);
    REQUIRE(d.run("5", "7", {"--check", "stereo"}).status == 0);
    const auto part = d.ask({"baseline", "approve", "latest"});
    CHECK(part.status == 2);
    CHECK_THAT(part.err, Contains("only a part of its expectation file"));
    CHECK(d.ask({"baseline", "approve", "2"}).status == 0);
    d.demand_more();
    REQUIRE(d.run("4").status == 1);
    const auto refused = d.ask({"baseline", "approve", "latest"});
    CHECK(refused.status == 2);
    CHECK_THAT(refused.err, Contains("only a run in which nothing failed"));
    CHECK(d.json_of({"baseline", "list"}).at("baselines").size() == 1);
    CHECK(d.json_of({"history", "--verdict", "fail"}).at("runs").size() == 1);
}

TEST_CASE("program: a name that is empty, and an output that is full, are told", "[cli][history]") {
    const history_desk d;
    REQUIRE(d.run("1").status == 0);
    CHECK(d.ask({"baseline", "approve", "", "--note", "no"}).status == 2);
    CHECK(d.ask({"baseline", "list"}).status == 3);
    for (const auto* what : {"export", "history"}) {
        const auto full = start({"/bin/sh", "-c", "\"$0\" \"$@\" > /dev/full", CVRIG_PROGRAM, what,
                                 "--history", d.file});
        CHECK(full.status == 2);
        CHECK_THAT(full.err, Contains("is not complete"));
    }
    const auto typo = d.at.folder.path() / "typo" / "h.sqlite";
    CHECK(cvrig_with({"baseline", "approve", "1", "--history", typo.string()}).status == 2);
    CHECK_FALSE(fs::exists(typo.parent_path()));
}

TEST_CASE("program: --bisect counts in each of its spellings", "[cli]") {
    const history_desk d;
    CHECK(d.run("1", "7", {"--image", "no such file", "--bisect=true"}).status == 125);
    CHECK(d.run("1", "7", {"--image", "no such file", "--bisect"}).status == 125);
    CHECK(d.run("1", "7", {"--image", "no such file"}).status == 2);
}

TEST_CASE("program: exported CSV is what a common reader of CSV reads", "[cli][history]") {
    const history_desk d;
    REQUIRE(d.run("a, \"b\"").status == 0);
    const auto csv = d.at.folder.path() / "all.csv";
    REQUIRE(d.ask({"export", "--output", csv.string()}).status == 0);
    // Python's own module csv, as the outside reader of RFC 4180.
    const auto r = start(
        {"/usr/bin/python3", "-c",
         "import csv,sys\nrows=list(csv.DictReader(open(sys.argv[1],newline='')))\n"
         "print(len(rows), rows[0]['build'], rows[0]['verdict'], float(rows[0]['reading']) > 0)",
         csv.string()});
    CHECK(r.out == "2 a, \"b\" pass True\n");
}

TEST_CASE("program: without a word, runs are filed in the user's data folder", "[cli][history]") {
    const history_desk d;
    const auto data = d.at.folder.path() / "xdg";
    const auto r = start({"env", "-u", "CVRIG_HISTORY", "XDG_DATA_HOME=" + data.string(),
                          CVRIG_PROGRAM, "run", d.at.expectations.string(), "--bench",
                          d.at.bench.string(), "--report", d.at.report.string()});
    CHECK(r.status == 0);
    CHECK(fs::exists(data / "cvrig" / "history.sqlite"));
    CHECK_THAT(r.out, Contains((data / "cvrig" / "history.sqlite").string()));
}

TEST_CASE(
    "program: a user's history that cannot be used costs no verdict, and the run is filed later",
    "[cli][history]") {
    const history_desk d;
    const auto data = d.at.folder.path() / "xdg";
    fs::create_directories(data / "cvrig");
    write_file_atomically(data / "cvrig" / "history.sqlite", std::string(4096, 'x'));
    const auto r = start({"env", "-u", "CVRIG_HISTORY", "XDG_DATA_HOME=" + data.string(),
                          CVRIG_PROGRAM, "run", d.at.expectations.string(), "--bench",
                          d.at.bench.string(), "--report", d.at.report.string()});
    CHECK(r.status == 0);
    CHECK_THAT(r.err, Contains("is no history of cvrig") && Contains("cvrig history --file"));
    const auto filed = d.ask({"history", "--file", d.at.report.string()});
    CHECK(filed.status == 0);
    const auto again = d.ask({"history", "--file", d.at.report.string()});
    CHECK_THAT(again.err, Contains("already run 1"));
    CHECK(d.json_of({"history"}).at("runs").size() == 1);
}

TEST_CASE("program: a named history that cannot be used refuses the run before it plays",
          "[cli][history]") {
    const history_desk d;
    fs::create_directories(fs::path{d.file}.parent_path());
    write_file_atomically(d.file, std::string(4096, 'x'));
    const auto r = d.run("1");
    CHECK(r.status == 2);
    CHECK_THAT(r.err, Contains("is no history of cvrig"));
    CHECK_FALSE(fs::exists(d.at.report / "report.json"));
    CHECK(d.run("1", "7", {"--bisect"}).status == 125);
}

TEST_CASE("program: a history that may only be read is read, and refuses to be written",
          "[cli][history]") {
    const history_desk d;
    REQUIRE(d.run("1").status == 0);
    const auto folder = fs::path{d.file}.parent_path();
    fs::permissions(d.at.folder.path(),
                    fs::perms::owner_all | fs::perms::group_exec | fs::perms::others_exec);
    fs::permissions(d.file, fs::perms::owner_read | fs::perms::group_read | fs::perms::others_read);
    fs::permissions(folder, fs::perms::owner_read | fs::perms::owner_exec | fs::perms::group_read |
                                fs::perms::group_exec | fs::perms::others_read |
                                fs::perms::others_exec);
    // Rights mean nothing to root, so that root becomes nobody.
    std::vector<std::string> as_other;
    if (start({"id", "-u"}).out == "0\n")
        as_other = {"setpriv", "--reuid=65534", "--regid=65534", "--clear-groups"};
    const auto asked = [&](std::vector<std::string> words) {
        auto all = as_other;
        all.emplace_back(CVRIG_PROGRAM);
        all.insert(all.end(), words.begin(), words.end());
        return start(all);
    };
    const auto listed = asked({"history", "--history", d.file});
    CAPTURE(listed.err);
    CHECK(listed.status == 0);
    const auto refused = asked({"baseline", "approve", "1", "--history", d.file});
    CHECK(refused.status == 2);
    CHECK_THAT(refused.err, Contains("write-protected") || Contains("cannot be opened"));
    fs::permissions(folder, fs::perms::owner_all);
}
