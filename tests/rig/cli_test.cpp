// What the real program does when files, folders, modules and people misbehave: its exit status,
// its sentence, and what it leaves behind.

#include <algorithm>
#include <catch2/catch.hpp>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "rig/platform/files.hpp"
#include "rig/platform/process.hpp"

using namespace cvrig;
namespace fs = std::filesystem;
using Catch::Matchers::Contains;

namespace {

struct ended {
    int status;
    std::string out, err;
};

ended start(const std::vector<std::string>& command) {
    const auto r = run_process(command);
    CAPTURE(r.signal, r.err.text);
    REQUIRE(r.how == process_result::ending::exited);
    return {r.status, r.out.text, r.err.text};
}

ended cvrig_with(std::vector<std::string> arguments) {
    arguments.insert(arguments.begin(), CVRIG_PROGRAM);
    return start(arguments);
}

std::string read(const fs::path& file) {
    std::ifstream in{file};
    std::ostringstream out;
    out << in.rdbuf();
    return out.str();
}

std::string expectations_with(const std::string& level, const std::string& note = "1 V") {
    return "format: cvrig expectations 1\nmodule: Ferrule\npitch: {at 0 V: C2, per octave: 1 V}\n"
           "drive:\n  pitch: {from: 0 V, to: 4 V}\n  gate: {low: 0 V, high: 5 V}\n"
           "listen: [left, right]\nsettings:\n  mode: {values: [tied]}\njudging: {retakes: 0}\n"
           "checks:\n  level: {note: " +
           note + ", level: " + level + "}\n  stereo: {note: " + note +
           ", gain difference: within 0.3 dB}\n";
}

std::string program(const std::string& first, const std::string& rest = "") {
    return first + ", \"{stimulus}\", \"{response}\", \"{settings}\"" + rest;
}

std::string good_program() {
    return program("\"" FERRULE_PROGRAM "\", render", ", \"jacks=pitch,gate\"");
}

std::string rogue(const std::string& mode) {
    return program("\"" CVRIG_ROGUE "\", " + mode);
}

/// A folder with an expectation file, a bench file and the arguments of a run.
struct desk {
    temporary_folder folder;
    fs::path expectations = folder.path() / "module.yaml";
    fs::path bench = folder.path() / "bench.yaml";
    fs::path report = folder.path() / "report";

    explicit desk(const std::string& command = good_program(),
                  const std::string& time_limit = "20 s") {
        write_file_atomically(expectations, expectations_with("between 6 dBu and 12 dBu"));
        write_file_atomically(bench, "format: cvrig bench 1\nname: test\nlink: {program: [" +
                                         command + "], rate: 48 kHz, time limit: " + time_limit +
                                         "}\noutputs:\n  - {jack: pitch, limits: -0.1 V to 5 V}\n"
                                         "  - {jack: gate, limits: 0 V to 5.5 V}\n"
                                         "inputs: [{jack: left}, {jack: right}]\n");
    }
    [[nodiscard]] std::vector<std::string> arguments(std::vector<std::string> more = {}) const {
        std::vector<std::string> all{"run",      expectations.string(), "--bench", bench.string(),
                                     "--report", report.string()};
        all.insert(all.end(), more.begin(), more.end());
        return all;
    }
    [[nodiscard]] ended run(std::vector<std::string> more = {}) const {
        return cvrig_with(arguments(std::move(more)));
    }
    /// Runs a line of the shell in which "$@" is the program with its arguments.
    [[nodiscard]] ended run_in_shell(const std::string& line) const {
        std::vector<std::string> all{"/bin/sh", "-c", line, "sh", CVRIG_PROGRAM};
        const auto more = arguments();
        all.insert(all.end(), more.begin(), more.end());
        return start(all);
    }
};

/// Names in a folder, in order, but for the run's log, which is written as the run goes.
std::vector<std::string> left_in(const fs::path& folder) {
    std::vector<std::string> names;
    if (!fs::is_directory(folder)) return names;
    for (const auto& entry : fs::directory_iterator{folder})
        if (entry.path().filename() != "run.log") names.push_back(entry.path().filename());
    std::ranges::sort(names);
    return names;
}

const std::vector<std::string> all_reports{"report.html", "report.json", "report.xml"};

bool is_one_sentence(const std::string& err) {
    return err.starts_with("cvrig: ") && std::ranges::count(err, '\n') == 1 && err.back() == '\n' &&
           err.size() > 20;
}

void check_refused(const ended& r, const fs::path& report, int status = 2) {
    CAPTURE(r.err, r.out);
    CHECK(r.status == status);
    CHECK(is_one_sentence(r.err));
    CHECK(r.out.empty());
    CHECK(left_in(report).empty());
}

/// The same with and without --bisect.
void check_refused_either_way(const desk& d, std::vector<std::string> more = {}) {
    check_refused(d.run(more), d.report, 2);
    more.insert(more.begin(), "--bisect");
    check_refused(d.run(more), d.report, 125);
}

}  // namespace

TEST_CASE("program: the demo's files, one check and one mode give a verdict and all reports",
          "[cli]") {
    const temporary_folder folder;
    const auto flash = (folder.path() / "flash").string();
    REQUIRE(start({FERRULE_PROGRAM, "calibrate", "unit=3", "state=" + flash}).status == 0);
    const auto judge = [&](const std::string& build) {
        return cvrig_with({"run", CVRIG_DEMO "/ferrule.expectations.yaml", "--bench",
                           CVRIG_DEMO "/desk.bench.yaml", "--image",
                           CVRIG_DEMO "/builds/" + build + ".ferrule", "--unit", "3", "--with",
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

TEST_CASE("program: an expectation file that is no such file is refused in one sentence", "[cli]") {
    const desk d;
    SECTION("missing") {
        fs::remove(d.expectations);
    }
    SECTION("empty") {
        write_file_atomically(d.expectations, "");
    }
    SECTION("binary") {
        write_file_atomically(d.expectations, std::string_view{"\x7f\x45\x4c\x46\0\1\2\3", 8});
    }
    SECTION("a folder") {
        fs::remove(d.expectations);
        fs::create_directory(d.expectations);
    }
    check_refused_either_way(d);
}

TEST_CASE("program: every mistake in a file is told with its place", "[cli]") {
    const desk d;
    write_file_atomically(d.expectations,
                          expectations_with("between 6 dBu and 12 furlongs") + "chekcs: {}\n");
    const auto r = d.run();
    CAPTURE(r.err);
    CHECK(r.status == 2);
    CHECK_THAT(r.err, Contains("module.yaml:12:"));
    CHECK_THAT(r.err, Contains("module.yaml:14:1: "));
    CHECK_FALSE(fs::exists(d.report));
    CHECK(d.run({"--bisect"}).status == 125);
}

TEST_CASE("program: arguments that cannot be used are refused in one sentence", "[cli]") {
    const desk d;
    const auto more = GENERATE(values<std::vector<std::string>>({{"--check", "levle"},
                                                                 {"--set", "mode=wild"},
                                                                 {"--set", "mode"},
                                                                 {"--with", "=3"},
                                                                 {"--no-such-option"},
                                                                 {"--image", "no-such-image"},
                                                                 {"--unit"}}));
    CAPTURE(more);
    check_refused_either_way(d, more);
}

TEST_CASE("program: without a command or its files it is refused in one sentence", "[cli]") {
    check_refused(cvrig_with({}), "");
    check_refused(cvrig_with({"run"}), "");
    check_refused(cvrig_with({"run", "--bisect"}), "", 125);
    check_refused(cvrig_with({"run", "x.yaml", "--bisect", "--bench"}), "", 125);
    check_refused(cvrig_with({"rejudge", "no-such-folder"}), "");
    check_refused(cvrig_with({"rejudge", "no-such-folder", "--bisect"}), "", 125);
    check_refused(cvrig_with({"explain", "no-such-file"}), "");
}

TEST_CASE("program: a bench whose program cannot be started is refused with its place", "[cli]") {
    const auto command = GENERATE(as<std::string>{}, program("no-such-program"),
                                  program("\"" CVRIG_ROGUE "\", good", ", \"{no_such_name}\""));
    const desk d{command};
    check_refused_either_way(d);
    CHECK_THAT(d.run().err, Contains("bench.yaml:3:7: "));
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

TEST_CASE("program: a report folder that cannot be used is refused in one sentence", "[cli]") {
    desk d;
    write_file_atomically(d.report, "in the way\n");
    SECTION("a file") {}
    SECTION("below a file") {
        d.report /= "below";
    }
    check_refused_either_way(d);
    CHECK(read(d.folder.path() / "report") == "in the way\n");
}

TEST_CASE("program: a log that cannot be written is refused in one sentence", "[cli]") {
    const desk d;
    fs::create_directories(d.report / "run.log");
    check_refused_either_way(d);
}

TEST_CASE("program: reports are written all or none", "[cli]") {
    const desk d;
    fs::create_directories(d.report / "report.html" / "in the way");
    const auto r = d.run();
    CAPTURE(r.out, r.err);
    CHECK(r.status == 2);
    CHECK(left_in(d.report) == std::vector<std::string>{"report.html"});
    CHECK(fs::is_directory(d.report / "report.html" / "in the way"));
}

// A limit on the size of files (in blocks of 512 bytes) stands for the full disk.
TEST_CASE("program: where files cannot grow nothing half-written is left", "[cli]") {
    const desk d;
    const std::string blocks = GENERATE("0", "8", "300");
    CAPTURE(blocks);
    check_refused(d.run_in_shell("ulimit -c 0; ulimit -f " + blocks + "; exec \"$@\""), d.report);
}

TEST_CASE("program: explain names every check and how long it takes", "[cli]") {
    const auto r = cvrig_with({"explain", CVRIG_DEMO "/ferrule.expectations.yaml"});
    CHECK(r.status == 0);
    CHECK(r.err.empty());
    for (const char* check :
         {"tracking", "slide", "retrigger", "accent", "envelope", "level", "stereo"})
        CHECK_THAT(r.out, Contains(check));
    CHECK_THAT(r.out, Contains("s of sound"));
}

TEST_CASE("program: says its version and its commands", "[cli]") {
    const auto version = cvrig_with({"--version"});
    CHECK(version.status == 0);
    CHECK(version.out == "cvrig " CVRIG_VERSION "\n");
    const auto help = cvrig_with({"--help"});
    CHECK(help.status == 0);
    for (const char* command : {"run", "explain", "rejudge"})
        CHECK_THAT(help.out, Contains(std::string{"\n  "} + command + " "));
}

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

// The shell waits until the module's program runs, sends the signal, and hands on the status.
TEST_CASE("program: a signal ends a run soon, without reports and without children", "[cli]") {
    const std::string name = GENERATE("INT", "TERM");
    const temporary_folder tools;
    const auto pid_file = (tools.path() / "pid").string();
    const auto module = tools.path() / "module";
    write_file_atomically(module, "#!/bin/sh\necho $$ > '" + pid_file + ".part'\nmv '" + pid_file +
                                      ".part' '" + pid_file +
                                      "'\nexec '" CVRIG_ROGUE "' hang \"$@\"\n");
    fs::permissions(module, fs::perms::owner_all);
    const desk d{program(module.string())};
    const auto begin = std::chrono::steady_clock::now();
    std::ostringstream line;
    line << "\"$@\" & run=$!; while [ ! -e '" << pid_file << "' ]; do sleep 0.02; done; kill -"
         << name << " $run; wait $run";
    const auto r = d.run_in_shell(line.str());
    CAPTURE(name);
    // Half the bench's time limit: loose for a busy machine, yet told from a take that ran out.
    CHECK(std::chrono::steady_clock::now() - begin < std::chrono::seconds{10});
    check_refused(r, d.report);
    CHECK_THAT(r.err, Contains("stopped"));
    const auto pid = std::to_string(std::stol(read(pid_file)));
    CHECK_FALSE(fs::exists(fs::path{"/proc"} / pid));
}
