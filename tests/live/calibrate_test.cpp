#include <catch2/catch.hpp>
#include <csignal>
#include <fstream>
#include <nlohmann/json.hpp>
#include <thread>

#include "live_judging.hpp"
#include "rig/platform/process.hpp"
#include "tests/demo/console_client.hpp"

using namespace cvrig;
using namespace cvrig::test_support;
using Catch::Matchers::Contains;
using nlohmann::json;

namespace {

namespace fs = std::filesystem;

// A new unit 5 whose pitch jack has a splitter, of which the other leg goes to input 4.
class calibrating_bench {
public:
    explicit calibrating_bench(const std::string& build)
        : image_{std::string{CVRIG_FIRMWARE} + "/" + build + ".hex"}, bench_{settings_for(image_)} {
        bench_.tell_desk("loop 7:3,1:4");
        bench_.tell_desk("freewheel on");
        file_ = bench_.folder() / "calibrating.bench.yaml";
        std::ofstream{file_} << live_bench_file(
            "loop-back:",
            "  - {jack: pitch, socket: IN 4, channel: 4, full scale: 10 V, uncertainty: 0.02 %}\n"
            "loop-back:");
    }

    [[nodiscard]] live_bench& parts() { return bench_; }
    [[nodiscard]] std::vector<std::string> command() const {
        return {CVRIG_PROGRAM,  "calibrate",      CVRIG_DEMO "/ferrule.expectations.yaml",
                "--bench",      file_.string(),   "--image",
                image_,         "--unit",         "5",
                "--unattended", "--with",         "console=" + bench_.console(),
                "--report",     report().string()};
    }
    [[nodiscard]] process_result calibrate() const {
        process_options patience;
        patience.time_limit = seconds{150.0};
        return run_process(command(), patience);
    }
    [[nodiscard]] json result() const {
        std::ifstream in{report() / "report.json"};
        return json::parse(in);
    }
    [[nodiscard]] std::string flash() const {
        std::ifstream in{bench_.flash()};
        return {std::istreambuf_iterator<char>{in}, {}};
    }

private:
    static live_bench_settings settings_for(const std::string& image) {
        live_bench_settings settings;
        settings.module_arguments = {"unit=5", "image=" + image};
        return settings;
    }
    [[nodiscard]] fs::path report() const { return bench_.folder() / "report"; }

    std::string image_;
    live_bench bench_;
    fs::path file_;
};

}  // namespace

TEST_CASE("calibrate: a unit on the live bench is put in tune and keeps it over everything") {
    calibrating_bench at{"good"};
    const auto r = at.calibrate();
    INFO(r.out.text << r.err.text);
    REQUIRE(r.status == 0);
    const auto report = at.result();
    for (const auto& f : report["checks"][0]["findings"]) {
        CAPTURE(f["name"]);
        CHECK(f["verdict"] == "pass");
    }
    CHECK_THAT(report.dump(), Contains("the bench saw"));
}

TEST_CASE("calibrate: constants that a live build never writes are gone after its power cycle") {
    calibrating_bench at{"calibration-forgotten"};
    const auto before = at.flash();
    const auto r = at.calibrate();
    INFO(r.out.text << r.err.text);
    REQUIRE(r.status == 1);
    const auto report = at.result();
    const auto& check = report["checks"][0];
    CHECK(check["diagnosis"]["cause"] == "constants not stored");
    for (const auto& f : check["findings"])
        if (f["name"] == "error") CHECK(f["verdict"] == "pass");
}

TEST_CASE("calibrate: a jack that loads its output ends it before the module takes a voltage") {
    calibrating_bench at{"good"};
    // 1 kilohm into 100 kilohm, which the bench file knows nothing of.
    at.parts().tell_desk("fault gain@out_1:-1");
    const auto r = at.calibrate();
    INFO(r.out.text << r.err.text);
    CHECK(r.status == 3);
    CHECK_THAT(at.result().dump(), Contains("the jack loads the output"));
}

TEST_CASE("calibrate: stopped in the middle, it leaves the module as it was, and says so") {
    // Three voltages of 0.3 s each, with two records of 0.5 s between; the last moments may come after
    // the end of it.
    const int after_ms = GENERATE(50, 700);
    calibrating_bench at{"good"};
    child_program rig{at.command(), at.parts().folder() / "calibrate"};
    REQUIRE(becomes_true([&] { return rig.all().find("walking the module") != std::string::npos; },
                         std::chrono::seconds{60}));
    const auto kept = at.flash();
    std::this_thread::sleep_for(std::chrono::milliseconds{after_ms});
    rig.send(SIGINT);
    REQUIRE(rig.ends_within(std::chrono::seconds{20}));
    INFO(after_ms << " ms: " << rig.all());
    CHECK(rig.status() == 2);
    const bool is_kept = at.flash() == kept;
    CHECK_THAT(rig.all(),
               Contains(is_kept ? "keeps its constants" : "new constants had been stored"));
    if (after_ms < 100) CHECK(is_kept);
    live::console_client console{at.parts().console()};
    CHECK(console.ask("CAL:STAT?") == "OFF");
}

TEST_CASE("calibrate: a module that was left in the middle, and is silent, is rescued first") {
    calibrating_bench at{"good"};
    CHECK(live::console_client{at.parts().console()}.ask("CAL:POIN 1;STAT?") == "1");
    const auto r = at.calibrate();
    INFO(r.out.text << r.err.text);
    CHECK(r.status == 0);
    CHECK_THAT(at.result().dump(), Contains("it was told to leave that first"));
}
