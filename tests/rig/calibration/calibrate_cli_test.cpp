// The real program calibrates the demo module, good builds and bad, over its console.
#include <nlohmann/json.hpp>

#include "tests/rig/cli_desk.hpp"

using namespace cvrig::testing;
using Catch::Matchers::Contains;
using cvrig::temporary_folder;
using nlohmann::json;

namespace {

/// A unit of the demo module with a flash of its own.
struct unit_at_desk {
    temporary_folder folder;
    std::string unit{"7"};

    [[nodiscard]] std::string state() const { return (folder.path() / "unit.flash").string(); }
    [[nodiscard]] ended calibrate(const std::string& build, std::vector<std::string> more = {},
                                  const std::string& bench = CVRIG_DEMO "/desk.bench.yaml") const {
        std::vector<std::string> words{
            "calibrate", CVRIG_DEMO "/ferrule.expectations.yaml",
            "--bench",   bench,
            "--unit",    unit,
            "--with",    "state=" + state(),
            "--image",   std::string{CVRIG_FIRMWARE} + "/" + build + ".hex",
            "--report",  (folder.path() / "report").string()};
        words.insert(words.end(), more.begin(), more.end());
        return cvrig_with(words);
    }
    [[nodiscard]] json report() const {
        return json::parse(read(folder.path() / "report" / "report.json"));
    }
};

const json& finding_of(const json& report, const std::string& name) {
    for (const auto& f : report["checks"][0]["findings"])
        if (f["name"] == name) return f;
    throw std::runtime_error{"no finding " + name};
}

std::string notes_of(const json& report, const std::string& name) {
    const auto& f = finding_of(report, name);
    return f.contains("notes") ? f["notes"].dump() : "";
}

}  // namespace

TEST_CASE("calibrate: a new unit is put in tune, and keeps it", "[calibration]") {
    unit_at_desk at;
    at.unit = GENERATE("7", "12", "23");
    const auto r = at.calibrate("good");
    CAPTURE(at.unit, r.out, r.err);
    CHECK(r.status == 0);
    const auto report = at.report();
    CHECK(report["verdict"] == "pass");
    CHECK(std::abs(finding_of(report, "error")["reading"]["value"].get<double>()) < 1.0);
    for (const auto* name : {"procedure", "power cycle", "settings reset", "re-flash"})
        CHECK(finding_of(report, name)["verdict"] == "pass");
    CHECK_THAT(notes_of(report, "error"), Contains("Before, the worst note was off by") &&
                                              Contains("Constants after: offset -0."));
}

TEST_CASE("calibrate: each build that calibrates wrongly fails, with its fault named",
          "[calibration]") {
    struct row {
        const char* build;
        const char* cause;
    };
    const auto [build, cause] = GENERATE(row{"calibration-forgotten", "constants not stored"},
                                         row{"calibration-wrong-sign", "wrong sign"},
                                         row{"calibration-scaled", "wrong scale"},
                                         row{"calibration-wiped", "wiped by a settings reset"},
                                         row{"calibration-hasty", "voltage 2 read too early"},
                                         row{"calibration-stuck", "stuck at voltage 2"});
    const unit_at_desk at;
    const auto r = at.calibrate(build);
    CAPTURE(build, r.out, r.err);
    CHECK(r.status == 1);
    const auto report = at.report();
    CHECK(report["checks"][0]["diagnosis"]["cause"] == cause);
}

TEST_CASE("calibrate: a module that sticks keeps its old constants and leaves its calibration",
          "[calibration]") {
    const unit_at_desk at;
    REQUIRE(at.calibrate("good").status == 0);
    const auto kept = read(at.state());
    REQUIRE(at.calibrate("calibration-stuck").status == 1);
    CHECK(read(at.state()) == kept);
}

TEST_CASE("calibrate: constants that a build loses are written again where the module takes them",
          "[calibration]") {
    const unit_at_desk at;
    const auto r = at.calibrate("calibration-wiped");
    CHECK(r.status == 1);
    CHECK_THAT(notes_of(at.report(), "procedure"), Contains("have been written again"));
    // Without its faults, the next build finds them.
    const auto after = at.calibrate("good");
    CAPTURE(after.out);
    CHECK_THAT(notes_of(at.report(), "error"),
               Contains("was off by 0.") || Contains("was off by -0.") || Contains("mcent"));
}

TEST_CASE("calibrate: the best constants are written on demand and are no worse", "[calibration]") {
    const unit_at_desk at;
    const auto r = at.calibrate("good", {"--best"});
    CAPTURE(r.out, r.err);
    CHECK(r.status == 0);
    CHECK_THAT(notes_of(at.report(), "error"), Contains("With the best constants written"));
}

TEST_CASE("calibrate: a bench that cannot support it is refused before anything plays",
          "[calibration]") {
    const unit_at_desk at;
    const auto bench = at.folder.path() / "bench.yaml";
    cvrig::write_file_atomically(
        bench, replaced(replaced(read(CVRIG_DEMO "/desk.bench.yaml"), "uncertainty: 0.2 mV",
                                 "uncertainty: 1 mV"),
                        "program: [ferrule,", "program: [\"" FERRULE_PROGRAM "\","));
    const auto r = at.calibrate("good", {}, bench.string());
    CHECK(r.status == 2);
    CHECK_THAT(r.err, Contains("bench.yaml:") && Contains("1 mV") && Contains("Trim this output"));
    CHECK_FALSE(fs::exists(at.state()));
}

TEST_CASE("calibrate: a file without the section, and a bench that cannot hold, are refused",
          "[calibration]") {
    const unit_at_desk at;
    const auto file = at.folder.path() / "module.yaml";
    cvrig::write_file_atomically(file, expectations_with("between 6 dBu and 12 dBu"));
    const auto r =
        cvrig_with({"calibrate", file.string(), "--bench", CVRIG_DEMO "/desk.bench.yaml"});
    CHECK(r.status == 2);
    CHECK_THAT(r.err, Contains("has no section 'calibration'"));
}
