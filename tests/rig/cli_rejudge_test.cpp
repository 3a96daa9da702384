// The real program judging kept takes again.

#include "tests/rig/cli_desk.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;

TEST_CASE("program: kept takes are judged again without playing", "[cli]") {
    const desk d{
        "\"./module\", render, \"{stimulus}\", \"{response}\", \"{settings}\", "
        "\"jacks=pitch,gate\""};
    fs::create_symlink(FERRULE_PROGRAM, d.folder.path() / "module");
    REQUIRE(d.run({"--keep-takes", "--quiet"}).status == 0);
    fs::remove(d.folder.path() / "module");  // so that nothing can be played
    REQUIRE(d.run({"--report", (d.folder.path() / "none").string()}).status == 2);
    const auto other = (d.folder.path() / "other.yaml").string();
    const auto again = d.folder.path() / "again";
    const auto rejudge = [&](std::vector<std::string> more) {
        more.insert(more.begin(), {"rejudge", d.report.string(), "--report", again.string()});
        return cvrig_with(more);
    };
    SECTION("the same limits give the same verdicts") {
        CHECK(rejudge({}).status == 0);
        CHECK(left_in(again) == all_reports);
    }
    SECTION("tighter limits fail") {
        write_file_atomically(other, expectations_with("between 1 dBu and 2 dBu"));
        CHECK(rejudge({"-e", other}).status == 1);
    }
    SECTION("other notes are refused") {
        write_file_atomically(other, expectations_with("between 6 dBu and 12 dBu", "2 V"));
        const auto r = rejudge({"-e", other});
        check_refused(r, again);
        CHECK_THAT(r.err, Contains("other notes"));
    }
}

TEST_CASE("program: kept takes that were tampered with are refused in one sentence", "[cli]") {
    const desk d;
    REQUIRE(d.run({"--keep-takes", "--quiet"}).status == 0);
    const auto take = d.report / "takes" / "mode=tied,attempt=1";
    REQUIRE(fs::exists(take / "take.json"));
    SECTION("a description without its keys") {
        write_file_atomically(take / "take.json", R"({"format": "cvrig take 1"})");
    }
    SECTION("a description with wrong kinds of values") {
        write_file_atomically(take / "take.json", R"({"format": 5, "sent": [1]})");
    }
    SECTION("a response that is no sound file") {
        write_file_atomically(take / "response.wav", "x");
    }
    SECTION("no stimulus") {
        fs::remove(take / "stimulus.wav");
    }
    const auto again = d.folder.path() / "again";
    check_refused(cvrig_with({"rejudge", d.report.string(), "-r", again.string()}), again);
}

TEST_CASE("program: where files cannot grow kept takes give no report", "[cli]") {
    const desk d;
    REQUIRE(d.run({"--keep-takes", "--quiet"}).status == 0);
    const auto again = d.folder.path() / "again";
    const auto r = start({"/bin/sh", "-c", "ulimit -c 0; ulimit -f 8; exec \"$@\"", "sh",
                          CVRIG_PROGRAM, "rejudge", d.report.string(), "-r", again.string()});
    check_refused(r, again);
}
