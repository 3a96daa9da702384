// The real program, judging by an earlier run of its own.

#include <nlohmann/json.hpp>

#include "tests/rig/cli_desk.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;
using nlohmann::json;

namespace {

struct followed_desk : desk {
    explicit followed_desk(const std::string& fault = "")
        : desk{program("\"" FERRULE_PROGRAM "\", render", ", \"jacks=pitch,gate\"" + fault)} {
        write_file_atomically(expectations, expectations_with("within 1 dB of baseline"));
    }
    [[nodiscard]] json first_limit() const {
        return json::parse(read(report / "report.json"))["checks"][0]["findings"][0]["limit"];
    }
};

}  // namespace

TEST_CASE("program: a run without its baseline never passes, and serves as one", "[baseline]") {
    const followed_desk d;
    const auto first = d.run({"--keep-takes", "--build-name", "1.0.3"});
    CAPTURE(first.out, first.err);
    CHECK(first.status == 3);
    CHECK_THAT(first.out, Contains("cvrig baseline approve RUN"));
    const auto was = (d.folder.path() / "was").string();
    fs::rename(d.report, was);

    const auto again = d.run({"--keep-takes", "--baseline", was});
    CAPTURE(again.out, again.err);
    CHECK(again.status == 0);
    CHECK_THAT(d.first_limit()["text"].get<std::string>(),
               Contains("within 1 dB of baseline (") && Contains("build 1.0.3)"));
    CHECK(cvrig_with({"rejudge", d.report.string()}).status == 0);
    CHECK(cvrig_with({"rejudge", was}).status == 3);
    CHECK(d.run({"--baseline", was, "--check", "stereo"}).status == 0);

    const followed_desk louder{", \"fault=level-jump:6\""};
    CHECK(louder.run({"--baseline", was}).status == 1);
}

TEST_CASE("program: a baseline's uncertainty does not grow from run to run", "[baseline]") {
    const followed_desk d;
    std::vector<double> u;
    std::string was;
    for (int i = 0; i < 3; ++i) {
        auto more =
            std::vector<std::string>{"--report", (d.folder.path() / std::to_string(i)).string()};
        if (i > 0) more.insert(more.end(), {"--baseline", was});
        auto arguments = d.arguments();
        arguments.resize(4);
        arguments.insert(arguments.end(), more.begin(), more.end());
        (void)cvrig_with(arguments);
        was = more[1];
        u.push_back(json::parse(
            read(fs::path{was} /
                 "report.json"))["checks"][0]["findings"][0]["reading"]["standard_uncertainty"]);
    }
    CHECK(u[1] == Approx(u[0] * std::sqrt(2.0)));
    CHECK(u[2] == Approx(u[1]));
}

TEST_CASE("program: a baseline of another unit says whose it is", "[baseline]") {
    const followed_desk d;
    (void)d.run({"--build-name", "1.0.3", "--unit", "8"});
    const auto was = (d.folder.path() / "was").string();
    fs::rename(d.report, was);
    (void)d.run({"--baseline", was, "--unit", "7"});
    CHECK_THAT(d.first_limit()["text"].get<std::string>(), Contains("build 1.0.3 of unit 8)"));
}

TEST_CASE("program: a unit that only its console names has the baseline that was approved for it",
          "[baseline]") {
    const followed_desk d{", \"unit=7\""};
    write_file_atomically(
        d.expectations,
        read(d.expectations) +
            "console: {serial number: {send: \"*IDN?\", expect: \"[^,]*,[^,]*,([^,]*),.*\"}}\n");
    write_file_atomically(d.bench, read(d.bench) + "console: {program: [\"" FERRULE_PROGRAM
                                                   "\", console, \"unit=7\"]}\n");
    const auto history = (d.folder.path() / "history.sqlite").string();
    REQUIRE(d.run({"--history", history}).status == 3);
    const auto unit = json::parse(read(d.report / "report.json"))["unit"].get<std::string>();
    CHECK(unit.ends_with("7"));
    REQUIRE(cvrig_with({"baseline", "approve", "latest", "--history", history}).status == 0);
    CHECK(d.run({"--history", history}).status == 0);
    const auto listed = json::parse(cvrig_with({"history", "--json", "--history", history}).out);
    CHECK(listed["runs"][0]["unit"] == unit);
}

TEST_CASE("program: a baseline that was measured in another way is none", "[baseline]") {
    const followed_desk d;
    (void)d.run();
    const auto was = d.folder.path() / "was";
    fs::rename(d.report, was);
    write_file_atomically(was / "report.json",
                          replaced(read(was / "report.json"), "\"measurement_version\": 1",
                                   "\"measurement_version\": 99"));
    const auto r = d.run({"--baseline", was.string()});
    CHECK(r.status == 3);
    CHECK_THAT(r.out, Contains("There is no baseline"));
}

TEST_CASE("program: a baseline that is none is refused in one sentence", "[baseline]") {
    const followed_desk d;
    check_refused_either_way(d, {"--baseline", (d.folder.path() / "none").string()});
    const auto other = d.folder.path() / "other";
    (void)d.run();
    fs::rename(d.report, other);
    write_file_atomically(other / "report.json",
                          replaced(read(other / "report.json"), "\"module\": \"Ferrule\"",
                                   "\"module\": \"Grommet\""));
    check_refused_either_way(d, {"--baseline", other.string()});
}

TEST_CASE(
    "program: the run that was approved last for the unit and the bench is followed by itself",
    "[baseline][history]") {
    const followed_desk d;
    const auto file = (d.folder.path() / "history.sqlite").string();
    const auto run = [&](std::vector<std::string> more) {
        more.insert(more.end(), {"--history", file});
        return d.run(more);
    };
    const auto first = run({"--build-name", "1.0.3", "--unit", "7"});
    CAPTURE(first.out, first.err);
    REQUIRE(first.status == 3);
    REQUIRE(cvrig_with({"baseline", "approve", "latest", "--history", file}).status == 0);
    CHECK(run({"--unit", "7"}).status == 0);
    CHECK_THAT(d.first_limit()["text"].get<std::string>(), Contains("build 1.0.3)"));
    // Another unit has no baseline of its own, but may be held against that one if somebody says so.
    CHECK(run({"--unit", "8"}).status == 3);
    CHECK(run({"--unit", "8", "--baseline", "1"}).status == 0);
    CHECK(run({"--unit", "8", "--baseline", "99"}).status == 2);
}
