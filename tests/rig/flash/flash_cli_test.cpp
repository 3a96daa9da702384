// The real program on a bench that builds and flashes before it judges.

#include <nlohmann/json.hpp>

#include "tests/rig/flash/flash_desk.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;
using nlohmann::json;

namespace {

const std::string builds =
    "build: {program: [" FERRULE_PROGRAM ", link, bass.ferrule, \"{image}\"], makes: out.hex}\n";
const std::string flashes =
    "flash: {program: [/bin/sh, -c, \"echo erasing; cp \\\"$1\\\" device.hex; echo done >&2\", sh, "
    "\"{image}\"], time limit: 20 s}\n";

/// Refused with one sentence and the lines that the step said at last; no report is left.
void check_not_judged(const flash_desk& d, const std::string& sentence,
                      const std::vector<std::string>& more = {}) {
    auto arguments = more;
    const auto r = d.run(arguments);
    CAPTURE(r.out, r.err);
    CHECK(r.status == 2);
    CHECK_THAT(r.err, Contains(sentence));
    CHECK(r.out.empty());
    CHECK(left_in(d.report).empty());
    arguments.emplace_back("--bisect");
    CHECK(d.run(arguments).status == 125);
}

}  // namespace

TEST_CASE("a run builds, flashes, asks the console, judges, and tells all of it", "[flash]") {
    const flash_desk d{builds + flashes};
    const auto r = d.run({"--commit", "v1.9-4-gabcdef0"});
    CAPTURE(r.out, r.err);
    REQUIRE(r.status == 0);
    CHECK_THAT(r.err, Contains("Building: " FERRULE_PROGRAM " link bass.ferrule") &&
                          Contains("Flashing: /bin/sh -c"));
    CHECK_THAT(r.out, Contains("Built in ") && Contains(", flashed in ") &&
                          Contains("runs version 1.9.0, as the image does."));
    const auto told = json::parse(read(d.report / "report.json"));
    CHECK(told["build"]["name"] == "v1.9-4-gabcdef0");
    CHECK(told["build"]["commit"] == "v1.9-4-gabcdef0");
    CHECK(told["build"]["version"] == "1.9.0");
    CHECK(told["build"]["size_bytes"] == fs::file_size(d.folder.path() / "out.hex"));
    CHECK(told["build"]["sha256"] == sha256_of_file(d.device));
    const auto& steps = told["preparation"]["steps"];
    REQUIRE(steps.size() == 2);
    CHECK(steps[0]["step"] == "build");
    CHECK(steps[0]["time_limit_s"] == 600.0);
    CHECK(steps[1]["step"] == "flash");
    CHECK(steps[1]["output"] == "erasing\ndone\n");
    CHECK(steps[1]["time_limit_s"] == 20.0);
    CHECK_THAT(read(d.report / "report.html"), Contains("Before the run") && Contains("erasing"));
    CHECK_THAT(read(d.report / "run.log"), Contains("erasing"));
}

TEST_CASE("an image that is given is the one that is built, flashed and judged", "[flash]") {
    const flash_desk d{builds + flashes};
    const auto mine = d.folder.path() / "mine.hex";
    REQUIRE(d.run({"--image", mine.string(), "--build-name", "mine"}).status == 0);
    CHECK(fs::exists(mine));
    CHECK_FALSE(fs::exists(d.folder.path() / "out.hex"));
    const auto told = json::parse(read(d.report / "report.json"));
    CHECK(told["build"]["name"] == "mine");
    // The folder of the bench file is no repository.
    CHECK_FALSE(told["build"].contains("commit"));
}

TEST_CASE("a build that fails leaves nothing to judge", "[flash]") {
    const flash_desk d{
        "build: {program: [/bin/sh, -c, \"echo bass.c:7: no such thing >&2; exit 4\"]}\n" +
        flashes};
    check_not_judged(d, "The build step failed with status 4 after ",
                     {"--image", (d.folder.path() / "out.hex").string()});
    CHECK_THAT(d.run({"--image", "out.hex"}).err, Contains("\n  | bass.c:7: no such thing\n"));
    CHECK_FALSE(fs::exists(d.device));
    CHECK_THAT(read(d.report / "run.log"), Contains("bass.c:7"));
}

TEST_CASE("a build that makes no image leaves nothing to judge", "[flash]") {
    const flash_desk d{"build: {program: [\"true\"], makes: out.hex}\n" + flashes};
    check_not_judged(d, "The build step ended well, but there is no image ");
}

TEST_CASE("a flash step that fails or hangs is a fault of the rig, not of the firmware",
          "[flash]") {
    SECTION("fails") {
        const flash_desk d{
            builds +
            "flash: {program: [/bin/sh, -c, \"echo no device; exit 74\", sh, \"{image}\"]}\n"};
        check_not_judged(d, "The flash step failed with status 74 after ");
        CHECK_THAT(d.run().err, Contains("\n  | no device\n"));
    }
    SECTION("hangs") {
        const flash_desk d{builds +
                           "flash: {program: [/bin/sh, -c, \"echo waiting; exec sleep 100\"], time "
                           "limit: 0.2 s}\n"};
        check_not_judged(d, "The flash step did not end within its time limit of 200 ms;");
        CHECK_THAT(d.run().err, Contains("\n  | waiting\n"));
    }
    SECTION("crashes") {
        const flash_desk d{builds + "flash: {program: [/bin/sh, -c, \"kill -SEGV $$\"]}\n"};
        check_not_judged(d, "The flash step crashed after ");
    }
    SECTION("is not there") {
        const flash_desk d{builds + "flash: {program: [./flasher]}\n"};
        check_not_judged(d, "The flash step cannot start ./flasher: there is no such program");
    }
}

TEST_CASE("a module that still runs another build is not judged", "[flash]") {
    const flash_desk d{builds + "flash: {program: [/bin/sh, -c, \"echo written\"]}\n"};
    fs::copy_file(CVRIG_FIRMWARE "/good.hex", d.device);
    check_not_judged(d,
                     "The module says that it runs version 1.4.0, and the image out.hex is version "
                     "1.9.0; another build was flashed. Nothing was judged.");
    CHECK_THAT(d.run().err, Contains("\n  | written\n"));
}

TEST_CASE("a commit is not called bad by a module that is not known to run it", "[flash]") {
    // A flash step that does nothing, before a module that is too loud and does not say which it is.
    const flash_desk d{builds + "flash: {program: [\"true\"]}\n"};
    fs::copy_file(CVRIG_FIRMWARE "/good.hex", d.device);
    write_file_atomically(d.expectations, expectations_with("between 60 dBu and 70 dBu"));
    const auto r = d.run({"--bisect"});
    CAPTURE(r.out, r.err);
    CHECK(r.status == 125);
    CHECK_THAT(r.err, Contains("With --bisect nothing is judged then"));
    const auto plain = d.run();
    CHECK(plain.status == 1);
    CHECK_THAT(plain.out, Contains("Which build the module runs was not asked"));
}

TEST_CASE("a build step that makes nothing new says so", "[flash]") {
    const flash_desk d{builds + flashes};
    REQUIRE(d.run().status == 0);
    write_file_atomically(
        d.bench,
        flashed_bench("build: {program: [\"true\"], makes: out.hex}\n" + flashes, d.device));
    const auto r = d.run();
    CAPTURE(r.err);
    CHECK(r.status == 0);
    CHECK_THAT(r.out, Contains("left the image") && Contains("nothing new to build"));
}

TEST_CASE("what a placeholder of a step stands for must be known before anything runs", "[flash]") {
    const auto [step, sentence] = GENERATE(table<std::string, std::string>(
        {{"flash: {program: [cp, \"{probe}\", device.hex]}\n", "Nothing is known as {probe}"},
         {"flash: {program: [cp, \"{unit}\", device.hex]}\n", "Nothing is known as {unit}"},
         {"flash: {program: [no-such-flasher]}\n", "There is no program 'no-such-flasher'"}}));
    const flash_desk d{builds + step};
    check_not_judged(d, sentence);
    CHECK_THAT(d.run().err, Contains("bench.yaml:10:8: "));
    CHECK_FALSE(fs::exists(d.folder.path() / "out.hex"));
}

TEST_CASE("a step is told names of --with, the unit, and where it runs", "[flash]") {
    const flash_desk d{builds + flashes.substr(0, flashes.find(", time limit")) +
                       ", \"{probe}\", \"{unit}\"]}\n"};
    fs::create_directory(d.folder.path() / "sub");
    const auto text =
        replaced(replaced(read(d.bench), "\"{image}\"], \"{probe}\"", "\"{image}\", \"{probe}\""),
                 "echo erasing;", "echo probe $2 of $3;");
    write_file_atomically(d.bench, text);
    const auto r = d.run({"--with", "probe=left one", "--unit", "3"});
    CAPTURE(r.err);
    REQUIRE(r.status == 0);
    const auto told = json::parse(read(d.report / "report.json"));
    CHECK(told["preparation"]["steps"][1]["output"] == "probe left one of 3\ndone\n");
}
