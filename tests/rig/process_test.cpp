#include "rig/platform/process.hpp"

#include <catch2/catch.hpp>
#include <chrono>
#include <csignal>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <thread>
#include <vector>

#include "rig/platform/files.hpp"

namespace {

using namespace cvrig;
namespace fs = std::filesystem;
using Catch::Matchers::Contains;
using ending = process_result::ending;

process_result shell(const std::string& script, const process_options& options = {}) {
    return run_process(std::vector<std::string>{"/bin/sh", "-c", script}, options);
}

std::size_t open_descriptors() {
    return static_cast<std::size_t>(
        std::distance(fs::directory_iterator{"/proc/self/fd"}, fs::directory_iterator{}));
}

/// Whether a process of that number runs (a zombie that init has not reaped yet does not).
bool is_running(long pid) {
    std::ifstream stat{"/proc/" + std::to_string(pid) + "/stat"};
    std::string number, name, state;
    return stat >> number >> name >> state && state != "Z" && state != "X";
}

bool is_gone_soon(long pid) {
    for (int i = 0; i < 200 && is_running(pid); ++i)
        std::this_thread::sleep_for(std::chrono::milliseconds{10});
    return !is_running(pid);
}

TEST_CASE("process: exit status and both outputs come back", "[rig][process]") {
    const auto r = shell("echo to out; echo to err >&2; exit 3");
    CHECK(r.how == ending::exited);
    CHECK(r.status == 3);
    CHECK(r.out.text == "to out\n");
    CHECK(r.err.text == "to err\n");
    CHECK_FALSE(r.left_children);
}

TEST_CASE("process: arguments arrive as they are", "[rig][process]") {
    const auto r = run_process(std::vector<std::string>{
        "/bin/sh", "-c", "printf '<%s>' \"$@\"", "sh", "slide knob=down", "", "*", "$HOME", "\""});
    CHECK(r.out.text == "<slide knob=down><><*><$HOME><\">");
}

TEST_CASE("process: it runs in the folder that it is given", "[rig][process]") {
    const temporary_folder folder;
    write_file_atomically(folder.path() / "tool", "#!/bin/sh\npwd\n");
    fs::permissions(folder.path() / "tool", fs::perms::owner_all);
    const auto here = fs::current_path();
    const auto r = run_process(std::vector<std::string>{"./tool"}, {.folder = folder.path()});
    CHECK(r.out.text == fs::canonical(folder.path()).string() + "\n");
    CHECK(fs::current_path() == here);
    CHECK(run_process(std::vector<std::string>{"/bin/true"}, {.folder = "/no/such/folder"}).how ==
          ending::could_not_start);
}

TEST_CASE("process: both outputs as one stream stand in the order of writing", "[rig][process]") {
    const auto r = shell("echo 1; echo 2 >&2; echo 3; echo 4 >&2", {.as_one_stream = true});
    CHECK(r.out.text == "1\n2\n3\n4\n");
    CHECK(r.err.text.empty());
}

TEST_CASE("process: stdin is empty", "[rig][process]") {
    const auto r = shell("cat; echo read");
    CHECK(r.out.text == "read\n");
}

TEST_CASE("process: the end by a signal is told", "[rig][process]") {
    const auto r = shell("kill -SEGV $$");
    CHECK(r.how == ending::killed_by_signal);
    CHECK(r.signal == SIGSEGV);
    CHECK(signal_in_words(SIGSEGV) == "segmentation fault (signal 11)");
}

TEST_CASE("process: what cannot start says why", "[rig][process]") {
    const temporary_folder folder;
    const auto run = [](const std::string& program) {
        const auto r = run_process(std::vector<std::string>{program});
        CHECK(r.how == ending::could_not_start);
        return r.reason;
    };
    write_file_atomically(folder.path() / "plain", "hello\n");
    write_file_atomically(folder.path() / "strange", "hello\n");
    fs::permissions(folder.path() / "strange", fs::perms::owner_all);
    CHECK_THAT(run((folder.path() / "nothing").string()), Contains("there is no such program"));
    CHECK_THAT(run((folder.path() / "plain").string()), Contains("not an executable file"));
    CHECK_THAT(run(folder.path().string()), Contains("not an executable file"));
    CHECK_THAT(run((folder.path() / "strange").string()), Contains("not a program for this"));
    CHECK(run_process({}).reason == "the command is empty");
}

TEST_CASE("process: endless babble on both outputs neither blocks nor fills memory",
          "[rig][process]") {
    process_options options;
    options.time_limit = seconds{0.3};
    options.keep_bytes = 1000;
    const auto r = shell("yes out & yes err >&2", options);
    CHECK(r.out.text.size() <= 1000);
    CHECK(r.err.text.size() <= 1000);
    CHECK((r.how == ending::exited || r.how == ending::timed_out));
    const auto loud = shell("yes babble", options);
    CHECK(loud.how == ending::timed_out);
    CHECK(loud.out.text.size() == 1000);
    CHECK(loud.out.left_out > 1000);
}

TEST_CASE("process: the last bytes of a long output are kept", "[rig][process]") {
    const auto r = shell("i=0; while [ $i -lt 20000 ]; do echo line $i; i=$((i+1)); done >&2");
    CHECK(r.err.text.size() == 65536);
    CHECK_THAT(r.err.text, Catch::Matchers::EndsWith("line 19998\nline 19999\n"));
    // "line " + digits + newline: 10 * 7 + 90 * 8 + 900 * 9 + 9000 * 10 + 10000 * 11 bytes.
    CHECK(r.err.left_out + r.err.text.size() == 208890);
}

TEST_CASE("process: the time limit ends a program that obeys", "[rig][process]") {
    process_options options;
    options.time_limit = seconds{0.1};
    const auto r = shell("exec sleep 60", options);
    CHECK(r.how == ending::timed_out);
    CHECK(r.signal == SIGTERM);
    CHECK(r.wall.value() >= 0.1);
    CHECK(r.wall.value() < 5.0);  // a loaded machine may be slow, but not by a minute
}

TEST_CASE("process: the time limit ends a program that does not obey, and its children",
          "[rig][process]") {
    const temporary_folder folder;
    const auto pids = (folder.path() / "pids").string();
    process_options options;
    options.time_limit = seconds{0.3};
    options.grace = seconds{0.1};
    const auto r = shell("trap '' TERM; sh -c 'trap \"\" TERM; echo $$ > " + pids +
                             "; while :; do sleep 1; done' & while :; do sleep 1; done",
                         options);
    CHECK(r.how == ending::timed_out);
    CHECK(r.signal == SIGKILL);
    long pid = 0;
    REQUIRE(std::ifstream{pids} >> pid);
    CHECK(is_gone_soon(pid));
}

TEST_CASE("process: a lingering child of an ended program is found and ended", "[rig][process]") {
    const auto r = shell("sleep 60 & echo $!");
    CHECK(r.how == ending::exited);
    CHECK(r.left_children);
    CHECK(r.wall.value() < 5.0);
    CHECK(is_gone_soon(std::stol(r.out.text)));
}

TEST_CASE("process: a silenced lingering child is ended too", "[rig][process]") {
    const auto r = shell("sleep 60 >/dev/null 2>&1 & echo $!");
    CHECK(is_gone_soon(std::stol(r.out.text)));
}

TEST_CASE("process: the caller can stop it", "[rig][process]") {
    std::stop_source source;
    process_options options;
    options.stop = source.get_token();
    const std::jthread stopper{[&] {
        std::this_thread::sleep_for(std::chrono::milliseconds{50});
        source.request_stop();
    }};
    const auto r = shell("exec sleep 60", options);
    CHECK(r.how == ending::cancelled);
    CHECK(r.wall.value() < 5.0);
}

TEST_CASE("process: no descriptor stays open here or leaks into the program", "[rig][process]") {
    const std::ifstream without_close_on_exec{"/dev/null"};
    const auto r = shell("ls /proc/self/fd | wc -l");
    // stdin, stdout, stderr, and the one by which ls reads the folder.
    CHECK(std::stoi(r.out.text) == 4);
    const auto before = open_descriptors();
    (void)shell("exit 0");
    (void)run_process(std::vector<std::string>{"/no/such/program"});
    CHECK(open_descriptors() == before);
}

TEST_CASE("process: signals ignored here are not ignored there", "[rig][process]") {
    auto* const before = ::signal(SIGTERM, SIG_IGN);
    const auto r = shell("kill -TERM $$; echo survived");
    ::signal(SIGTERM, before);
    CHECK(r.how == ending::killed_by_signal);
    CHECK(r.signal == SIGTERM);
}

TEST_CASE("process: a bare name is found in the given folders before PATH", "[rig][process]") {
    const temporary_folder folder;
    const std::vector<fs::path> folders{folder.path()};
    CHECK(find_program("ls", folders).value().filename() == "ls");
    write_file_atomically(folder.path() / "ls", "#!/bin/sh\n");
    CHECK(find_program("ls", folders).value() != folder.path() / "ls");  // not executable
    fs::permissions(folder.path() / "ls", fs::perms::owner_all);
    CHECK(find_program("ls", folders).value() == folder.path() / "ls");
    CHECK_FALSE(find_program("no such program at all", folders).has_value());
    CHECK(find_program("./anything", folders).value() == "./anything");
}

}  // namespace
