#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "rig/platform/files.hpp"
#include "rig/platform/process.hpp"

using namespace cvrig;
namespace fs = std::filesystem;

// The real program, with the demo module as another process.
namespace {

struct ended {
    int status;
    std::string out, err;
};

ended start(std::vector<std::string> arguments) {
    arguments.insert(arguments.begin(), CVRIG_PROGRAM);
    const auto r = run_process(arguments);
    return {r.status, r.out.text, r.err.text};
}

void write(const fs::path& file, const std::string& text) {
    std::ofstream{file} << text;
}

std::string read(const fs::path& file) {
    std::ifstream in{file};
    std::ostringstream out;
    out << in.rdbuf();
    return out.str();
}

// Two short checks, in one mode, for the demo module.
std::string short_expectations(const std::string& level = "between 6 dBu and 12 dBu",
                               const std::string& note = "1 V") {
    return "format: cvrig expectations 1\nmodule: Ferrule\npitch: {at 0 V: C2, per octave: 1 V}\n"
           "drive:\n  pitch: {from: 0 V, to: 4 V}\n  gate: {low: 0 V, high: 5 V}\n"
           "listen: [left, right]\nsettings:\n  mode: {values: [tied]}\n"
           "judging: {retakes: 1}\nchecks:\n  level: {note: " +
           note + ", level: " + level +
           "}\n"
           "  stereo: {note: " +
           note + ", gain difference: within 0.3 dB}\n";
}

std::string bench_with(const std::string& program) {
    return "format: cvrig bench 1\nname: test\nlink: {program: [" + program +
           "], rate: 48 kHz, time limit: 2 s}\n"
           "outputs:\n  - {jack: pitch, limits: -0.1 V to 5 V}\n  - {jack: gate, limits: 0 V to "
           "5.5 V}\n"
           "inputs: [{jack: left}, {jack: right}]\n";
}

const std::string good_program =
    "\"" FERRULE_PROGRAM
    "\", render, \"{stimulus}\", \"{response}\", \"{settings}\", \"jacks=pitch,gate\"";

// A folder with both files and the arguments of a run in it.
struct desk {
    temporary_folder folder;
    fs::path expectations = folder.path() / "module.yaml";
    fs::path bench = folder.path() / "bench.yaml";
    fs::path report = folder.path() / "report";

    explicit desk(const std::string& program = good_program,
                  const std::string& text = short_expectations()) {
        write(expectations, text);
        write(bench, bench_with(program));
    }
    [[nodiscard]] ended run(std::vector<std::string> more = {}) const {
        std::vector<std::string> all{"run",      expectations.string(), "--bench", bench.string(),
                                     "--report", report.string()};
        all.insert(all.end(), more.begin(), more.end());
        return start(all);
    }
    [[nodiscard]] bool half_written() const {
        if (!fs::exists(report)) return false;
        for (const auto& entry : fs::recursive_directory_iterator(report))
            if (entry.path().extension() == ".tmp") return true;
        return false;
    }
};

}  // namespace

TEST_CASE("command: a good module ends with 0 and leaves its reports", "[cli]") {
    const desk d;
    const auto r = d.run();
    INFO(r.out << r.err);
    CHECK(r.status == 0);
    for (const char* name : {"report.html", "report.json", "report.xml", "run.log"})
        CHECK(fs::file_size(d.report / name) > 0);
    CHECK(r.out.find("report.html") != std::string::npos);
    CHECK(r.out.find('\x1b') == std::string::npos);  // no colour into a pipe
    CHECK_FALSE(d.half_written());
}

TEST_CASE("command: a module that is too loud ends with 1", "[cli]") {
    const desk d{good_program + ", \"fault=level-jump:6\""};
    CHECK(d.run().status == 1);
    CHECK(read(d.report / "report.xml").find("<failure") != std::string::npos);
}

TEST_CASE("command: files and arguments that cannot be used end with 2, or 125 for bisecting",
          "[cli]") {
    const desk good;
    const desk broken{good_program, "format: cvrig expectations 1\nmodul: x\n"};
    const auto r = broken.run();
    CHECK(r.status == 2);
    CHECK(r.err.find("module.yaml:2:1: ") != std::string::npos);
    CHECK_FALSE(fs::exists(broken.report));
    CHECK(broken.run({"--bisect"}).status == 125);
    CHECK(good.run({"--check", "levle"}).status == 2);
    CHECK(good.run({"--image", "no-such-image"}).status == 2);
    CHECK(good.run({"--no-such-option"}).status == 2);
    CHECK(start({}).status == 2);
    CHECK(start({"run", "no-such-file", "--bench", good.bench.string()}).status == 2);
    CHECK(desk{"no-such-program, \"{stimulus}\", \"{response}\", \"{settings}\""}.run().status ==
          2);
}

TEST_CASE(
    "command: a program link that misbehaves never ends with 0 or counts against the firmware",
    "[cli]") {
    for (const char* mode : {"crash", "hang", "nan", "wrong-rate"}) {
        const desk d{std::string{"\"" CVRIG_ROGUE "\", "} + mode +
                     ", \"{stimulus}\", \"{response}\", \"{settings}\""};
        const auto r = d.run({"--bisect"});
        INFO(mode << r.out << r.err);
        CHECK(r.status == 125);
        const auto xml = read(d.report / "report.xml");
        CHECK(xml.find("could not be judged") != std::string::npos);
        CHECK(xml.find("<failure") == std::string::npos);
        CHECK_FALSE(d.half_written());
    }
}

TEST_CASE("command: a report folder that cannot be made is told before anything is played",
          "[cli]") {
    const desk d;
    write(d.report, "a file in the way\n");
    const auto r = d.run();
    CHECK(r.status == 2);
    CHECK(r.err.find("report folder") != std::string::npos);
    CHECK(read(d.report) == "a file in the way\n");
}

TEST_CASE("command: kept takes are judged again with other limits, but not with other notes",
          "[cli]") {
    const desk d;
    REQUIRE(d.run({"--keep-takes"}).status == 0);
    CHECK(start({"rejudge", d.report.string()}).status == 0);
    const auto tight = d.folder.path() / "tight.yaml";
    write(tight, short_expectations("between 1 dBu and 2 dBu"));
    CHECK(start({"rejudge", d.report.string(), "-e", tight.string()}).status == 1);
    write(tight, short_expectations("between 6 dBu and 12 dBu", "2 V"));
    const auto other = start({"rejudge", d.report.string(), "-e", tight.string()});
    CHECK(other.status == 2);
    CHECK(other.err.find("other notes") != std::string::npos);
    CHECK(start({"rejudge", d.folder.path().string()}).status == 2);
}

TEST_CASE("command: explain says what is played, demanded and how long it takes", "[cli]") {
    const auto r = start({"explain", CVRIG_DEMO "/ferrule.expectations.yaml", "--bench",
                          CVRIG_DEMO "/desk.bench.yaml"});
    CHECK(r.status == 0);
    for (const char* said : {"tracking", "slide", "retrigger", "accent", "envelope", "level",
                             "stereo", "within 10 %", "s of sound"})
        CHECK(r.out.find(said) != std::string::npos);
}

TEST_CASE(
    "command: the whole demo passes on its good build and fails on the right check of a faulty one",
    "[cli]") {
    const temporary_folder folder;
    const auto flash = (folder.path() / "flash").string();
    REQUIRE(run_process(
                std::vector<std::string>{FERRULE_PROGRAM, "calibrate", "unit=3", "state=" + flash})
                .status == 0);
    const auto judge = [&](const std::string& build, const std::string& name) {
        return start({"run", CVRIG_DEMO "/ferrule.expectations.yaml", "--bench",
                      CVRIG_DEMO "/desk.bench.yaml", "--image",
                      CVRIG_DEMO "/builds/" + build + ".ferrule", "--unit", "3", "--with",
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
