// The parts of building and flashing, each by itself.

#include <atomic>
#include <catch2/catch.hpp>
#include <chrono>
#include <thread>

#include "rig/flash/flashed_console.hpp"
#include "rig/flash/git_description.hpp"
#include "rig/flash/run_step.hpp"
#include "rig/flash/step_command.hpp"
#include "rig/platform/files.hpp"
#include "tests/rig/console/fake_module.hpp"
#include "tests/rig/expectations/files.hpp"

using namespace cvrig;
using Catch::Matchers::Contains;
using testing::terminal_module;
namespace fs = std::filesystem;

namespace {

bench bench_with(const std::string& more) {
    const scratch_file file{
        "format: cvrig bench 1\nname: desk\nlink: {program: [x, \"{stimulus}\", \"{response}\"]}\n"
        "outputs: [{jack: pitch}]\ninputs: [{jack: left}]\n" +
        more};
    return read_bench(file.path());
}

bench_step shell_step(const std::string& script, seconds time_limit, const fs::path& folder) {
    return {.command = {"/bin/sh", "-c", script},
            .folder = folder.string(),
            .makes = {},
            .time_limit = time_limit,
            .where = {}};
}

preparation_step ran(const std::string& script, const fs::path& folder = "/",
                     seconds time_limit = seconds{20.0}) {
    const auto step = shell_step(script, time_limit, folder);
    return run_step("build", step, step.command, {});
}

/// A console that answers each line with `answer`.
console_settings answering(const std::string& answer, double return_s = 0.3) {
    console_settings c;
    c.how = console_settings::way::program;
    c.command = {"/bin/sh", "-c", "while read -r line; do echo \"" + answer + "\"; done"};
    c.return_time = seconds{return_s};
    return c;
}

module_expectations asks_identity() {
    module_expectations m;
    m.console = console_rules{};
    m.console->identity = dialogue_line{"*IDN?", ".*,.*,.*,(.*)", {}};
    m.console->time_limit = seconds{0.5};
    m.console->retries = 0;
    return m;
}

std::optional<image_facts> image_with(const std::string& text) {
    image_facts facts{"out.bin", {}, {}};
    for (const char c : std::string(8, '\0') + text + std::string(8, '\0'))
        facts.bytes.push_back(static_cast<std::byte>(c));
    return facts;
}

}  // namespace

TEST_CASE("bench: steps before a run have a folder and a time limit", "[flash]") {
    const auto b = bench_with(
        "build: {program: [make, all], folder: ../firmware, makes: out.hex, time limit: 5 min}\n"
        "flash: {program: [./flash, \"{image}\"]}\n");
    REQUIRE(b.build);
    REQUIRE(b.flash);
    const auto here = fs::absolute(b.file).parent_path();
    CHECK(b.build->command == std::vector<std::string>{"make", "all"});
    CHECK(b.build->folder == (here / "../firmware").lexically_normal().string());
    CHECK(b.build->makes == (here / "../firmware/out.hex").lexically_normal().string());
    CHECK(b.build->time_limit == seconds{300.0});
    CHECK(fs::equivalent(b.flash->folder, here));
    CHECK(b.flash->makes.empty());
    CHECK(b.flash->time_limit == seconds{120.0});
    CHECK_FALSE(bench_with("").build);
}

TEST_CASE("a step runs in its folder, and its two outputs come as they were written", "[flash]") {
    const temporary_folder folder;
    const auto done = ran("pwd; echo to err >&2; echo to out", folder.path());
    CHECK(done.output == fs::canonical(folder.path()).string() + "\nto err\nto out\n");
    CHECK(done.step == "build");
    CHECK(done.command == "/bin/sh -c \"pwd; echo to err >&2; echo to out\"");
    CHECK(done.left_out_bytes == 0);
    CHECK(done.took.value() > 0.0);
}

TEST_CASE("of a long output the end is kept", "[flash]") {
    const auto done = ran("i=0; while [ $i -lt 5000 ]; do echo line $i; i=$((i+1)); done");
    CHECK(done.output.size() == 16384);
    CHECK(done.output.ends_with("line 4999\n"));
    // "line 0" to "line 4999" with their line ends, counted by hand.
    CHECK(done.left_out_bytes + done.output.size() == 5000 * 6 + 10 + 90 * 2 + 900 * 3 + 4000 * 4);
    CHECK_THAT(last_lines(done), Contains("\n  | line 4990\n") && !Contains("line 4989"));
}

TEST_CASE("a step that fails is told in one sentence with its last lines", "[flash]") {
    CHECK_THROWS_WITH(ran("echo broken; exit 7"),
                      Catch::Matchers::StartsWith("The build step failed with status 7 after ") &&
                          Catch::Matchers::EndsWith("; nothing was judged.\n  | broken"));
    CHECK_THROWS_WITH(ran("exec sleep 60", "/", seconds{0.1}),
                      Contains("did not end within its time limit of 100 ms; nothing was judged."));
    CHECK_THROWS_WITH(ran("true", "/no/such/folder"),
                      Contains("The folder /no/such/folder of the build step does not exist"));
    CHECK_THROWS_WITH(
        ran("printf 'writing 1%%\\rwriting 2%%\\rverify failed\\r'; exit 7"),
        Catch::Matchers::EndsWith("\n  | writing 1%\n  | writing 2%\n  | verify failed"));
}

TEST_CASE("a port that is there is what {port} stands for", "[flash]") {
    const temporary_folder folder;
    const auto port = (folder.path() / "tty").string();
    const auto b = bench_with("console: {terminal: " + port +
                              "}\nflash: {program: [/bin/true, \"-p{port}\", \"{image}\"]}\n");
    const auto command = [&] {
        return command_of(*b.flash, {{"image", "/x/out.hex"}}, b.console, {});
    };
    CHECK_THROWS_WITH(command(), Contains("There is no {port} to flash through: the console "
                                          "(terminal ") &&
                                     Contains("plug the module in"));
    write_file_atomically(port, "");
    CHECK(command() == std::vector<std::string>{"/bin/true", "-p" + port, "/x/out.hex"});
}

TEST_CASE("a USB port that is not there is named as the bench names it", "[flash]") {
    // 0xF055:0xDEAD is no assigned pair; from memory.
    const auto b = bench_with(
        "console: {usb: \"f055:dead\", serial number: \"0007\"}\n"
        "flash: {program: [/bin/true, \"{port}\"]}\n");
    CHECK_THROWS_WITH(command_of(*b.flash, {}, b.console, {}),
                      Contains("(USB serial port f055:dead, serial number 0007) cannot be used: no "
                               "such device is plugged in."));
}

TEST_CASE("a flashed module must say that it runs the image", "[flash]") {
    const auto m = asks_identity();
    const auto image = image_with("Bass 2.3.4");
    const auto [facts, doubt] = await_flashed(answering("us,Bass,7,2.3.4"), m, image, {});
    CHECK(doubt.empty());
    REQUIRE(facts.size() == 2);
    CHECK(facts[1] == "The module says that it runs version 2.3.4, as the image does.");
    CHECK_THROWS_WITH(
        await_flashed(answering("us,Bass,7,2.3.3"), m, image, {}),
        "The module says that it runs version 2.3.3, which the image out.bin does not "
        "carry; another build was flashed. Nothing was judged.");
    CHECK_THROWS_WITH(
        await_flashed(answering("what?"), m, image, {}),
        Contains("does not tell its identity after flashing") && Contains("Nothing was judged."));
}

TEST_CASE("a module that restarts late is waited for until it runs the image", "[flash]") {
    const temporary_folder folder;
    std::atomic<bool> is_new{false};
    terminal_module module{folder.path() / "tty", [&](const std::string&) {
                               return is_new ? "us,Bass,7,2.3.4\n" : "us,Bass,7,2.3.3\n";
                           }};
    console_settings how;
    how.how = console_settings::way::terminal;
    how.path = (folder.path() / "tty").string();
    how.return_time = seconds{20.0};
    std::jthread restarts{[&] {
        while (module.wire().heard().empty())
            std::this_thread::sleep_for(std::chrono::milliseconds{5});
        module.go_away();
        is_new = true;
        module.come_back();
    }};
    const auto facts = await_flashed(how, asks_identity(), image_with("Bass 2.3.4"), {}).facts;
    REQUIRE(facts.size() == 2);
    CHECK_THAT(facts[0], Contains("The console was back"));
    CHECK_THAT(facts[1], Contains("runs version 2.3.4"));
}

TEST_CASE("what cannot be told of a flashed module is said, and leaves a doubt", "[flash]") {
    const auto image = image_with("Bass 2.3.4");
    CHECK_THAT(await_flashed(answering("x"), {}, image, {}).doubt,
               Contains("Which build the module runs was not asked"));
    CHECK_THAT(await_flashed(answering("us,Bass,7,2.3.4"), asks_identity(), {}, {}).doubt,
               Contains("no image was named"));
    CHECK_THAT(await_flashed(answering("us,Bass,7,9"), asks_identity(), image, {}).doubt,
               Contains("too short to be looked for"));
    CHECK_THAT(await_flashed(answering("us,Bass,7,"), asks_identity(), image, {}).doubt,
               Contains("names no version"));
}

TEST_CASE("a console that does not come back after flashing is told with its time", "[flash]") {
    console_settings gone;
    gone.how = console_settings::way::terminal;
    gone.path = "/no/such/terminal";
    gone.return_time = seconds{0.2};
    CHECK_THROWS_WITH(await_flashed(gone, asks_identity(), {}, {}),
                      "The console (terminal /no/such/terminal) did not come back within 200 ms "
                      "after flashing. Nothing was judged.");
}

TEST_CASE("outside a repository git describes nothing", "[flash]") {
    const temporary_folder folder;
    CHECK(git_description(folder.path()).empty());
    CHECK(git_description("/no/such/folder").empty());
}
