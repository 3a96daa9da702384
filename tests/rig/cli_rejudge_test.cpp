// The real program judging kept takes again.

#include <fmt/format.h>
#include <algorithm>

#include "rig/stimulus/wave_file.hpp"
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

TEST_CASE("program: a long pattern is kept part by part, its wrong steps as sounds", "[cli]") {
    const desk d{program("\"" FERRULE_PROGRAM "\", render",
                         ", \"jacks=pitch,gate\", \"fault=note-lost:4\"")};
    const auto file = expectations_with("between 6 dBu and 12 dBu");
    write_file_atomically(
        d.expectations, file.substr(0, file.find("checks:")) +
                            "checks:\n  pattern: {steps: 300, accent share: 0 %, slide share: 0 %, "
                            "wrong steps: none}\n");
    REQUIRE(d.run({"--keep-takes", "--quiet"}).status == 1);
    for (const char* part : {"1", "2"})
        CHECK(fs::exists(d.report / "takes" /
                         fmt::format("mode=tied,pattern_part_{},attempt=1", part) /
                         "response.wav"));
    std::vector<fs::path> sounds;
    for (const auto& entry : fs::directory_iterator{d.report / "sounds"})
        sounds.push_back(entry.path());
    REQUIRE(sounds.size() == 8);
    for (const auto& sound : sounds) {
        const auto name = sound.filename().string();
        CAPTURE(name);
        CHECK_THAT(name, Catch::Matchers::StartsWith("pattern,mode=tied,step-"));
        CHECK_THAT(read(d.report / "report.json"), Contains("sounds/" + name));
        CHECK_THAT(read(d.report / "report.html"), Contains("src=\"sounds/" + name));
        // Two steps of 110 ms, in which full scale is 10 V.
        const auto heard = read_wave_file(sound, 2);
        CHECK(heard.size() == 2 * 5280);
        CHECK(*std::ranges::max_element(heard.channels[0]) < 0.8F);
    }
    CHECK(cvrig_with({"rejudge", d.report.string(), "--report",
                      (d.folder.path() / "again").string(), "--bisect"})
              .status == 1);
    CHECK(fs::exists(d.folder.path() / "again" / "sounds" / sounds.front().filename()));
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

TEST_CASE("program: a run forgets what an earlier one kept in its folder", "[cli]") {
    const desk d;
    const auto old = d.report / "takes" / "mode=tied,attempt=2";
    fs::create_directories(old);
    write_file_atomically(old / "take.json", "an earlier run's retake");
    write_file_atomically(d.report / "facts.json", "an earlier run's facts");
    write_file_atomically(d.report / "image", "an earlier run's build");
    REQUIRE(d.run({"--keep-takes", "--quiet"}).status == 0);
    CHECK_FALSE(fs::exists(old));
    CHECK_FALSE(fs::exists(d.report / "facts.json"));
    CHECK_FALSE(fs::exists(d.report / "image"));
    CHECK(fs::exists(d.report / "takes" / "mode=tied,attempt=1" / "take.json"));
    const auto again = (d.folder.path() / "again").string();
    CHECK(cvrig_with({"rejudge", d.report.string(), "--report", again}).status == 0);
}
