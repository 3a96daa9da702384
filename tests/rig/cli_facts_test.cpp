// The real program on the demo's firmware files and console, without sound.

#include "tests/rig/cli_desk.hpp"

using namespace cvrig::testing;
using Catch::Matchers::Contains;

namespace {

/// Only what hears nothing, so that no take is played.
ended judge(const std::string& build, const fs::path& report) {
    return cvrig_with({"run", CVRIG_DEMO "/ferrule.expectations.yaml", "--bench",
                       CVRIG_DEMO "/desk.bench.yaml", "--image",
                       CVRIG_FIRMWARE "/" + build + ".hex", "--unit", "3", "--with",
                       "state=" + (report / "flash").string(), "--check", "image", "--check",
                       "console", "--report", report.string()});
}

}  // namespace

TEST_CASE("program: faulty firmware files and consoles fail on the right finding", "[cli]") {
    struct row {
        std::string build, check, finding;
    };
    const auto r =
        GENERATE(row{"over-budget", "image", "flash"}, row{"dirty-tree", "image", "version"},
                 row{"broken-crc", "image", "crc"}, row{"falls-silent", "console", "answer"},
                 row{"overloaded", "console", "load"}, row{"leaky", "console", "memory loss"},
                 row{"restarts", "console", "resets"});
    const cvrig::temporary_folder folder;
    const auto ran = judge(r.build, folder.path());
    CAPTURE(r.build, ran.out, ran.err);
    CHECK(ran.status == 1);
    const auto xml = read(folder.path() / "report.xml");
    CAPTURE(xml);
    const auto failure = xml.find("<failure");
    REQUIRE(failure != std::string::npos);
    const auto its_case = xml.rfind("<testcase", failure);
    CHECK_THAT(xml.substr(its_case, failure - its_case), Contains(r.finding));
    CHECK(xml.find("<failure", failure + 1) == std::string::npos);
}

TEST_CASE("program: the good firmware file and console pass", "[cli]") {
    const cvrig::temporary_folder folder;
    const auto ran = judge("good", folder.path());
    CAPTURE(ran.out, ran.err);
    CHECK(ran.status == 0);
}
