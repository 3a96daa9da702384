// The real program's verdicts on real builds of the demo module and on modules gone wild.

#include "tests/rig/cli_desk.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;

TEST_CASE("program: the demo's files, one check and one mode give a verdict and all reports",
          "[cli]") {
    const temporary_folder folder;
    const auto flash = (folder.path() / "flash").string();
    REQUIRE(start({FERRULE_PROGRAM, "calibrate", "unit=3", "state=" + flash}).status == 0);
    const auto judge = [&](const std::string& build) {
        return cvrig_with({"run", CVRIG_DEMO "/ferrule.expectations.yaml", "--bench",
                           CVRIG_DEMO "/desk.bench.yaml", "--image",
                           CVRIG_FIRMWARE "/" + build + ".hex", "--unit", "3", "--with",
                           "state=" + flash, "--check", "level", "--set", "mode=tied", "--report",
                           (folder.path() / build).string()});
    };
    for (const auto& [build, status] : {std::pair{"good", 0}, std::pair{"louder", 1}}) {
        const auto r = judge(build);
        CAPTURE(build, r.out, r.err);
        CHECK(r.status == status);
        CHECK(left_in(folder.path() / build) == all_reports);
        CHECK(fs::file_size(folder.path() / build / "run.log") > 0);
    }
}

TEST_CASE("program: a fault of the bench gives no verdict, never a pass or a fail", "[cli]") {
    const std::string mode =
        GENERATE("crash", "hang", "half", "nan", "wrong-rate", "nothing", "text", "status-3");
    const desk d{rogue(mode), "0.3 s"};
    const auto r = d.run();
    CAPTURE(mode, r.out, r.err);
    CHECK(r.status == 3);
    CHECK(left_in(d.report) == all_reports);
    const auto xml = read(d.report / "report.xml");
    CHECK_THAT(xml, Contains("could not be judged"));
    CHECK_THAT(xml, !Contains("<failure"));
    CHECK(d.run({"--bisect"}).status == 125);
}

TEST_CASE("program: silence, noise and a constant voltage never pass", "[cli]") {
    const std::string mode = GENERATE("silence", "noise", "constant");
    const desk d{rogue(mode)};
    const auto r = d.run({"--quiet"});
    CAPTURE(mode, r.out, r.err);
    CHECK((r.status == 1 || r.status == 3));
    CHECK(r.out.starts_with(r.status == 1 ? "fail: " : "unsure: "));
    CHECK(left_in(d.report) == all_reports);
}

TEST_CASE("program: a module that is too loud ends with 1", "[cli]") {
    const desk d{program("\"" FERRULE_PROGRAM "\", render",
                         ", \"jacks=pitch,gate\", \"fault=level-jump:6\"")};
    CHECK(d.run().status == 1);
    CHECK_THAT(read(d.report / "report.xml"), Contains("<failure"));
}

TEST_CASE(
    "program: the whole demo passes on its good build and fails on the right check of a faulty one",
    "[cli]") {
    const temporary_folder folder;
    const auto flash = (folder.path() / "flash").string();
    REQUIRE(start({FERRULE_PROGRAM, "calibrate", "unit=3", "state=" + flash}).status == 0);
    const auto judge = [&](const std::string& build, const std::string& name) {
        return cvrig_with({"run", CVRIG_DEMO "/ferrule.expectations.yaml", "--bench",
                           CVRIG_DEMO "/desk.bench.yaml", "--image",
                           CVRIG_FIRMWARE "/" + build + ".hex", "--unit", "3", "--with",
                           "state=" + flash, "--set", "mode=tied", "--report",
                           (folder.path() / name).string()});
    };
    const auto good = judge("good", "good");
    INFO(good.out << good.err);
    CHECK(good.status == 0);
    CHECK(judge("filter-only", "bad").status == 1);
    const auto xml = read(folder.path() / "bad" / "report.xml");
    CHECK(xml.find("<testsuite name=\"retrigger\"") != std::string::npos);
    CHECK(xml.find("classname=\"retrigger") < xml.find("<failure"));
    CHECK(xml.find("<failure") < xml.find("<testsuite name=\"accent\""));
}
