// What the real program does when files, folders and people misbehave: its exit status, its
// sentence, and what it leaves behind.

#include <chrono>

#include "tests/rig/cli_desk.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;

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

TEST_CASE("program: explain says of one check what its keys mean", "[cli]") {
    const auto r = cvrig_with({"explain", "image"});
    CHECK(r.status == 0);
    CHECK(r.err.empty());
    // How versions are compared is to be found nowhere else.
    CHECK_THAT(r.out, Contains("1.2.0 is neither in 11.2.0 nor in 1.2.0-rc1") &&
                          Contains("with or without a 'v'"));
    for (const char* key : {"format:", "file:", "checksum:", "memory:", "crc:", "version:"})
        CHECK_THAT(r.out, Contains(key));
    for (const auto& check : {"pattern", "unplugged", "console"})
        CHECK(cvrig_with({"explain", check}).status == 0);
}

TEST_CASE("program: explain names every check and how long it takes", "[cli]") {
    const auto r = cvrig_with({"explain", CVRIG_DEMO "/ferrule.expectations.yaml"});
    CHECK(r.status == 0);
    CHECK(r.err.empty());
    for (const char* check : {"tracking", "slide", "retrigger", "accent", "envelope", "level",
                              "stereo", "waveform", "noise"})
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

TEST_CASE("program: a run that is stopped leaves no earlier run's reports", "[cli]") {
    const desk d;
    REQUIRE(d.run({"--quiet"}).status == 0);
    REQUIRE(left_in(d.report) == all_reports);
    // The bench hangs now; the time limit is longer than the signal takes.
    write_file_atomically(d.bench, replaced(read(d.bench), good_program(), rogue("hang")));
    const auto r = d.run_in_shell("\"$@\" & run=$!; sleep 1; kill -TERM $run; wait $run");
    check_refused(r, d.report);
}
