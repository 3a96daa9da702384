#include "rig/link/program_link.hpp"

#include <catch2/catch.hpp>
#include <chrono>
#include <csignal>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <thread>
#include <vector>

#include "rig/expectations/user_error.hpp"
#include "rig/platform/files.hpp"
#include "rig/stimulus/wave_file.hpp"

namespace {

using namespace cvrig;
namespace fs = std::filesystem;
using Catch::Matchers::Contains;

std::size_t entries(const fs::path& folder) {
    return static_cast<std::size_t>(
        std::distance(fs::directory_iterator{folder}, fs::directory_iterator{}));
}

stimulus one_second() {
    stimulus s{sample_rate{48000.0}, {"pitch", "gate"}, {}};
    s.volts.assign(2, std::vector<float>(48000));
    for (std::size_t i = 0; i < 48000; ++i) s.volts[0][i] = 1.0F + static_cast<float>(i) * 1e-5F;
    return s;
}

program_link_settings command(std::vector<std::string> words) {
    program_link_settings settings;
    settings.command = std::move(words);
    settings.where = {"desk.yaml", 3, 7};
    return settings;
}

program_link_settings rogue(const std::string& mode) {
    return command({CVRIG_ROGUE, mode, "{stimulus}", "{response}", "{settings}"});
}

program_link_options options_in(const temporary_folder& folder) {
    program_link_options options;
    options.recorded = {"left", "right"};
    options.working_folder = folder.path();
    return options;
}

/// A take of one second through a rogue of that mode; nothing may stay behind.
take played_through(const std::string& mode) {
    const temporary_folder folder;
    auto settings = rogue(mode);
    settings.time_limit = seconds{mode == "hang" ? 0.5 : 30.0};
    auto t = program_link{settings, options_in(folder)}.play(one_second(), {}, 1, 1);
    CHECK(entries(folder.path()) == 0);
    return t;
}

std::string refusal(const program_link_settings& settings, const program_link_options& options) {
    try {
        (void)program_link{settings, options}.play(one_second(), {{"mode", "tied"}}, 1, 1);
    } catch (const user_error& e) {
        return e.what();
    }
    return "it was played";
}

/// A script that answers well and stores its arguments, one a line, in `seen`.
std::string script_in(const fs::path& folder, const std::string& name) {
    const auto file = folder / name;
    write_file_atomically(file, "#!/bin/sh\nfor a in \"$@\"; do echo \"$a\"; done > '" +
                                    (folder / "seen").string() + "'\n" + CVRIG_ROGUE +
                                    " good \"$1\" \"$2\"\n");
    fs::permissions(file, fs::perms::owner_all);
    return file.string();
}

std::vector<std::string> seen_in(const fs::path& folder) {
    std::ifstream in{folder / "seen"};
    std::vector<std::string> lines;
    for (std::string line; std::getline(in, line);) lines.push_back(line);
    return lines;
}

TEST_CASE("program link: a take holds what was sent and what came back", "[rig][link]") {
    const temporary_folder folder;
    program_link desk{rogue("good"), options_in(folder)};
    const auto t = desk.play(one_second(), {{"mode", "tied"}}, 7, 2);
    CHECK(t.problems.empty());
    CHECK(t.number == 7);
    CHECK(t.attempt == 2);
    CHECK(t.choice == setting_choice{{"mode", "tied"}});
    CHECK(t.heard_jacks == std::vector<std::string>{"left", "right"});
    CHECK(t.sent.volts == one_second().volts);
    REQUIRE(t.heard.size() == 2);
    CHECK(t.heard[0] == one_second().volts[0]);
    CHECK(t.log.empty());
    CHECK(t.wall.value() > 0.0);
}

TEST_CASE("program link: each fault of a program gives one plain sentence", "[rig][link]") {
    struct row {
        std::string mode, sentence;
    };
    const auto r = GENERATE(values<row>({
        {"status-3", "the program ended with status 3 and said 'the oscillator is on fire'"},
        {"crash", "the program was ended by a segmentation fault (signal 11)"},
        {"hang", "the program did not end within 0.5 s and was stopped"},
        {"nothing", "the program wrote no response"},
        {"text", "the response cannot be used: it is not a WAV file"},
        {"empty-wave", "the response cannot be used: it holds no samples"},
        {"mono", "the response has 1 channels instead of 2"},
        {"wrong-rate", "the response has 44100 samples per second instead of 48000"},
        {"short", "the response is 0.05 s (2400 samples) too short"},
        {"long", "the response is 2.08e-05 s (1 samples) too long"},
        {"nan", "sample 4711 of 'left' is not a number"},
        {"nans", "sample 4711 of 'right' is not a number, and 9 more samples are not finite"},
        {"infinite", "sample 47999 of 'right' is infinite"},
    }));
    CAPTURE(r.mode);
    CHECK(played_through(r.mode).problems == std::vector<std::string>{r.sentence});
}

TEST_CASE("program link: half a response is told from a short one", "[rig][link]") {
    const auto t = played_through("half");
    REQUIRE(t.problems.size() == 1);
    CHECK_THAT(t.problems[0],
               Contains("the response cannot be used: it is cut off: its header promises 384000"));
}

TEST_CASE("program link: what a program says on stderr is kept with the take", "[rig][link]") {
    CHECK(played_through("status-3").log == "the oscillator is on fire\n");
    const auto t = played_through("babble");
    CHECK(t.problems.empty());
    CHECK(t.log.size() < 66000);
    CHECK_THAT(t.log, Contains("bytes are left out]\n"));
    CHECK_THAT(t.log, Catch::Matchers::EndsWith("line 99999 of babble\n"));
}

TEST_CASE("program link: silence, noise and constants are no fault of the link", "[rig][link]") {
    const auto mode = GENERATE("silence", "noise", "constant");
    CAPTURE(mode);
    const auto t = played_through(mode);
    CHECK(t.problems.empty());
    CHECK((t.log.find("exactly 0 V on every channel") != std::string::npos) ==
          (std::string{mode} == "silence"));
}

TEST_CASE("program link: a lingering child process is ended and noted", "[rig][link]") {
    const auto t = played_through("grandchild");
    CHECK(t.problems.empty());
    CHECK(t.log == "[the program left a process behind, which was ended]\n");
    CHECK(t.wall.value() < 20.0);
}

TEST_CASE("program link: placeholders are replaced", "[rig][link]") {
    const temporary_folder folder;
    auto options = options_in(folder);
    options.substitutions = {{"image", "/fw/ferrule.bin"}, {"unit", "A 7"}};
    const auto script = script_in(folder.path(), "dsp");
    program_link desk{
        command({script, "{stimulus}", "{response}", "{settings}", "--unit={unit};{unit}",
                 "{image}", "{\"json\": 1}", "{", "}", "{settings}"}),
        options};
    const auto t = desk.play(one_second(), {{"mode", "tied"}, {"slide knob", "down"}}, 1, 1);
    CHECK(t.problems.empty());
    const auto seen = seen_in(folder.path());
    REQUIRE(seen.size() == 11);
    CHECK(fs::path{seen[0]}.filename() == "stimulus.wav");
    CHECK(fs::path{seen[1]}.filename() == "response.wav");
    CHECK(std::vector<std::string>(seen.begin() + 2, seen.end()) ==
          std::vector<std::string>{"mode=tied", "slide knob=down", "--unit=A 7;A 7",
                                   "/fw/ferrule.bin", "{\"json\": 1}", "{", "}", "mode=tied",
                                   "slide knob=down"});
}

TEST_CASE("program link: a command that cannot work is refused with its place", "[rig][link]") {
    const temporary_folder folder;
    auto options = options_in(folder);
    options.substitutions = {{"image", "x"}};
    CHECK(refusal(command({CVRIG_ROGUE, "{stimulus}", "{response}", "{imgae}"}), options) ==
          "desk.yaml:3:7: nothing is known as {imgae}; say what it stands for, as in --with "
          "imgae=VALUE, or use one of {settings}, {image}, {response}, {stimulus}");
    CHECK_THAT(refusal(command({CVRIG_ROGUE, "{stimulus}", "{response}", "-s{settings}"}), options),
               Contains("desk.yaml:3:7: {settings} must be an argument of its own"));
    CHECK_THAT(refusal(command({CVRIG_ROGUE, "{stimulus}"}), options),
               Contains("the command does not use {response}"));
    CHECK_THAT(refusal(command({}), options), Contains("the command is empty"));
}

TEST_CASE("program link: a program that is not there or cannot start is refused", "[rig][link]") {
    const temporary_folder folder;
    const auto options = options_in(folder);
    CHECK(refusal(command({"no-such-program", "{stimulus}", "{response}"}), options) ==
          "desk.yaml:3:7: there is no program 'no-such-program'; check its name, or give its path "
          "relative to the bench file");
    const auto plain = (folder.path() / "plain").string();
    write_file_atomically(plain, "hello");
    CHECK_THAT(refusal(command({plain, "{stimulus}", "{response}"}), options),
               Contains("desk.yaml:3:7: cannot start '" + plain + "': it is not an executable"));
}

TEST_CASE("program link: a bare program name is looked up in the search folders", "[rig][link]") {
    const temporary_folder folder;
    const temporary_folder programs;
    auto options = options_in(folder);
    options.search_folders = {programs.path()};
    (void)script_in(programs.path(), "ferrule");
    program_link desk{command({"ferrule", "{stimulus}", "{response}"}), options};
    CHECK(desk.play(one_second(), {}, 1, 1).problems.empty());
}

TEST_CASE("program link: a file beside the bench file is meant by its relative name",
          "[rig][link]") {
    const temporary_folder folder;
    const temporary_folder bench;
    fs::create_directory(bench.path() / "bin");
    fs::create_directory(bench.path() / "render");
    write_file_atomically(bench.path() / "unit.cal", "x");
    (void)script_in(bench.path() / "bin", "dsp");
    auto settings =
        command({"bin/dsp", "{stimulus}", "{response}", "render", "unit.cal", "other.cal"});
    settings.where.file = (bench.path() / "desk.yaml").string();
    program_link desk{settings, options_in(folder)};
    CHECK(desk.play(one_second(), {}, 1, 1).problems.empty());
    const auto seen = seen_in(bench.path() / "bin");
    REQUIRE(seen.size() == 5);
    CHECK(seen[2] == "render");
    CHECK(seen[3] == (bench.path() / "unit.cal").string());
    CHECK(seen[4] == "other.cal");
}

TEST_CASE("program link: kept takes have telling names and no stale response", "[rig][link]") {
    const temporary_folder folder;
    auto options = options_in(folder);
    options.keep_takes = true;
    (void)program_link{rogue("good"), options}.play(one_second(), {}, 3, 1);
    const auto kept = folder.path() / "take-0003-1";
    CHECK(entries(folder.path()) == 1);
    CHECK(read_wave_file(kept / "stimulus.wav", 2).channels == one_second().volts);
    CHECK(read_wave_file(kept / "response.wav", 2).size() == 48000);

    const auto again = program_link{rogue("nothing"), options}.play(one_second(), {}, 3, 1);
    CHECK(again.problems == std::vector<std::string>{"the program wrote no response"});
}

TEST_CASE("program link: a stopped take says so", "[rig][link]") {
    const temporary_folder folder;
    std::stop_source source;
    auto options = options_in(folder);
    options.stop = source.get_token();
    program_link desk{rogue("hang"), options};
    const std::jthread stopper{[&] {
        std::this_thread::sleep_for(std::chrono::milliseconds{100});
        source.request_stop();
    }};
    const auto t = desk.play(one_second(), {}, 1, 1);
    CHECK(t.problems ==
          std::vector<std::string>{"the take was stopped before the program had ended"});
    CHECK(entries(folder.path()) == 0);
}

TEST_CASE("program link: describes itself by its command", "[rig][link]") {
    const temporary_folder folder;
    CHECK(program_link{command({"/bin/sh", "{stimulus}", "{response}"}), options_in(folder)}
              .description() == "program /bin/sh, 48 kHz");
}

}  // namespace
