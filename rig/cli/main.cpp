#include <fmt/format.h>
#include <CLI/CLI.hpp>
#include <algorithm>
#include <filesystem>
#include <iostream>
#include <span>
#include <string_view>

#include "rig/cli/commands.hpp"
#include "rig/cli/history_options.hpp"
#include "rig/cli/service_options.hpp"
#include "rig/platform/files.hpp"
#include "rig/platform/own_program.hpp"

namespace {

using namespace cvrig;

std::map<std::string, std::string> pairs(const std::vector<std::string>& texts,
                                         const char* option) {
    std::map<std::string, std::string> out;
    for (const auto& text : texts) {
        const auto equals = text.find('=');
        if (equals == std::string::npos || equals == 0)
            throw user_error{fmt::format("{} wants name=value, but got '{}'.", option, text)};
        out[text.substr(0, equals)] = text.substr(equals + 1);
    }
    return out;
}

struct command_line {
    run_arguments run;
    calibrate_arguments calibrate;
    rejudge_arguments rejudge;
    pack_arguments pack;
    open_arguments open;
    wiring_arguments wiring;
    patch_arguments patch;
    fleet_arguments fleet;
    history_arguments history;
    service_arguments service;
    std::vector<std::string> with, set;
    std::string explained, explained_bench;
    std::string rejudge_expectations, open_expectations;
    play_arguments play;
    std::string devices_bench;
    std::string proven_bench, trimmed_bench, meter;
    std::string constants;
};

/// What is on which bench, and where reports and records of it go: the same for all that play.
void add_subject(CLI::App& command, run_arguments& run, command_line& line) {
    command.add_option("expectations", run.expectations, "Expectation file (YAML)")->required();
    command.add_option("-b,--bench", run.bench, "Bench file (YAML)")->required();
    command.add_option("-i,--image", run.image,
                       "Firmware image; stands for {image} in the bench file");
    command.add_option("-u,--unit", run.unit,
                       "Which specimen is on the bench; stands for {unit} in the bench file");
    command.add_option("--build-name", run.build_name, "Name of the build for the report");
    command.add_option("--commit", run.commit,
                       "How version control describes the build's source, for the report");
    command.add_option("--with", line.with, "name=value: stands for {name} in the bench file")
        ->take_all();
    command.add_option("-r,--report", run.report_folder, "Folder for the reports")
        ->capture_default_str();
    command
        .add_option("--runs", run.runs_folder,
                    "Folder in which tracking is filed by unit and build, for `cvrig fleet`")
        ->envname("CVRIG_RUNS");
    command
        .add_option("--constants", line.constants,
                    "Whose pitch constants are in force at first: the build's own default, or own, "
                    "made by calibrating this unit")
        ->check(CLI::IsMember({"default", "own"}));
    command.add_flag("--unattended", run.unattended,
                     "Nobody is there: skip what needs a hand on the module, and say so");
    command.add_flag("-q,--quiet", run.quiet, "Print the headline only");
}

void add_run(CLI::App& app, command_line& line) {
    auto* run =
        app.add_subcommand("run", "Play, measure and judge a module against its expectation file");
    add_subject(*run, line.run, line);
    run->add_option("--check", line.run.filter.checks, "Run only this check; may be given again");
    run->add_option("--set", line.set, "setting=value: only where the setting has this value")
        ->take_all();
    run->add_option(
        "--baseline", line.run.baseline,
        "The run that limits 'of baseline' follow: its report folder, or a run as for `cvrig show` "
        "(default: the one that was approved last for this unit on this bench)");
    run->add_flag("--keep-takes", line.run.keep_takes,
                  "Keep what was played and heard, for `cvrig rejudge`");
    add_history_option(*run, line.run.history);
    run->add_flag("--bisect", line.run.bisect,
                  "End with 125 where no verdict is possible, for `git bisect run`");
    // For `cvrig serve`, which starts runs and follows them.
    run->add_option("--tell", line.run.tell)->group("");
    run->add_flag("--owned", line.run.owned)->group("");
}

void add_calibrate(CLI::App& app, command_line& line) {
    auto* calibrate = app.add_subcommand(
        "calibrate", "Walk a module through its own calibration, and prove what came of it");
    add_subject(*calibrate, line.calibrate.run, line);
    calibrate->add_flag("--best", line.calibrate.write_best,
                        "In the end, write the constants that leave the least error");
}

void add_others(CLI::App& app, command_line& line) {
    auto* explain =
        app.add_subcommand("explain", "Say in plain words what a file plays, measures and demands");
    explain
        ->add_option("expectations", line.explained,
                     "Expectation file (YAML), or the name of a check: what its keys mean")
        ->required();
    explain->add_option("-b,--bench", line.explained_bench,
                        "Bench file, to check that it can do all of it");
    auto* rejudge =
        app.add_subcommand("rejudge", "Judge kept takes again, with the same or other limits");
    rejudge
        ->add_option("folder", line.rejudge.kept_folder, "Report folder of a run with --keep-takes")
        ->required();
    rejudge->add_option("-e,--expectations", line.rejudge_expectations, "Another expectation file");
    rejudge->add_option("-r,--report", line.rejudge.report_folder,
                        "Folder for the new reports (default: FOLDER/rejudged)");
    rejudge->add_flag("--bisect", line.rejudge.bisect, "End with 125 where no verdict is possible");
}

void add_evidence(CLI::App& app, command_line& line) {
    auto* pack = app.add_subcommand(
        "pack", "Make one file of a run to give away: sounds, files, readings, nothing personal");
    pack->add_option("folder", line.pack.run_folder, "Report folder of a run with --keep-takes")
        ->required();
    pack->add_option("-o,--output", line.pack.file,
                     "Evidence file (default: MODULE-UNIT-BUILD.cvrig-evidence)");
    pack->add_flag("--with-image", line.pack.with_image, "Put the firmware file in, too");
    auto* open = app.add_subcommand(
        "open", "Check an evidence file, judge it again, and compare it with another run");
    open->add_option("file", line.open.file, "Evidence file of `cvrig pack`")->required();
    open->add_option("-r,--report", line.open.report_folder,
                     "Folder to unpack it to, with new reports (default: NAME-opened)");
    open->add_option("--against", line.open.against,
                     "Report folder or evidence file: name each reading that differs");
    open->add_option("-e,--expectations", line.open_expectations, "Another expectation file");
}

void add_interface(CLI::App& app, command_line& line) {
    auto* play = app.add_subcommand(
        "play", "Play a WAV file in volts through the bench and record what comes back");
    play->add_option("stimulus", line.play.stimulus,
                     "WAV file, 1.0 is 1 V, one channel for each output of the bench")
        ->required();
    play->add_option("response", line.play.response, "WAV file for what the inputs heard")
        ->required();
    play->add_option("-b,--bench", line.play.bench, "Bench file (YAML)")->required();
    play->add_flag("-q,--quiet", line.play.quiet, "Say only what is wrong");
    auto* devices = app.add_subcommand("devices", "List audio devices and serial ports");
    devices->add_option("-b,--bench", line.devices_bench,
                        "Bench file, to see which device has what it needs");
}

void add_bench_commands(CLI::App& app, command_line& line) {
    auto* selftest = app.add_subcommand(
        "selftest", "Prove the audio bench over its loop-back cable, without judging a module");
    selftest->add_option("-b,--bench", line.proven_bench, "Bench file (YAML)")->required();
    auto* trim = app.add_subcommand(
        "trim", "Measure every channel of the interface with a meter, step by step");
    trim->add_option("-b,--bench", line.trimmed_bench, "Bench file (YAML)")->required();
    trim->add_option("-m,--meter", line.meter,
                     "Accuracy from the meter's data sheet, as in \"0.5 % + 2 digits of 1 mV\"")
        ->required();
}

void add_cables(CLI::App& app, command_line& line) {
    auto* wiring = app.add_subcommand("wiring", "Say which cable goes from where to where");
    wiring->add_option("expectations", line.wiring.expectations, "Expectation file (YAML)")
        ->required();
    wiring->add_option("-b,--bench", line.wiring.bench, "Bench file (YAML)")->required();
    wiring->add_option("--html", line.wiring.html, "Draw the cables into this file, too");
    wiring->add_option("--with", line.with, "name=value: stands for {name} in the bench file")
        ->take_all();
    auto* patch = app.add_subcommand(
        "patch", "Play each output and listen whether its cable leads where it should");
    patch->add_option("expectations", line.patch.expectations, "Expectation file (YAML)")
        ->required();
    patch->add_option("-b,--bench", line.patch.bench, "Bench file (YAML)")->required();
    patch->add_option("--with", line.with, "name=value: stands for {name} in the bench file")
        ->take_all();
}

constants_in_force constants_named(const std::string& word) {
    if (word == "default") return constants_in_force::by_default;
    return word == "own" ? constants_in_force::own : constants_in_force::unknown;
}

void add_fleet(CLI::App& app, command_line& line) {
    auto* fleet = app.add_subcommand(
        "fleet",
        "Answer from filed tracking which default constants are best, and which unit is odd");
    fleet->add_option("folders", line.fleet.folders, "Folders that `cvrig run --runs` has filled")
        ->envname("CVRIG_RUNS")
        ->required();
    fleet->add_option("--build", line.fleet.build,
                      "Build whose default constants are asked about (default: the latest)");
    fleet->add_option("--limit", line.fleet.limit, "Within what a unit is in tune")
        ->capture_default_str();
    fleet
        ->add_option("--set", line.set,
                     "setting=value: only records with this value (default: the choice of settings "
                     "that most units were measured with)")
        ->take_all();
    fleet->add_option("-r,--report", line.fleet.report_folder,
                      "Folder for fleet.html and fleet.json (default: none)");
    fleet->add_flag("--json", line.fleet.json, "Print JSON instead of text");
}

exit_status dispatch(const CLI::App& app, command_line& line) {
    if (const auto done = dispatch_history(app, line.history)) return *done;
    if (const auto done = dispatch_service(app, line.service)) return *done;
    if (app.got_subcommand("run")) {
        line.run.with = pairs(line.with, "--with");
        line.run.filter.settings = pairs(line.set, "--set");
        line.run.program_folders = {own_program_folder()};
        line.run.constants = constants_named(line.constants);
        return run_command(line.run);
    }
    if (app.got_subcommand("calibrate")) {
        line.calibrate.run.with = pairs(line.with, "--with");
        line.calibrate.run.constants = constants_named(line.constants);
        line.calibrate.run.program_folders = {own_program_folder()};
        return calibrate_command(line.calibrate);
    }
    if (app.got_subcommand("rejudge")) {
        if (!line.rejudge_expectations.empty())
            line.rejudge.expectations = line.rejudge_expectations;
        return rejudge_command(line.rejudge);
    }
    if (app.got_subcommand("pack")) return pack_command(line.pack);
    if (app.got_subcommand("open")) {
        if (!line.open_expectations.empty()) line.open.expectations = line.open_expectations;
        return open_command(line.open);
    }
    if (app.got_subcommand("play")) return play_command(line.play);
    if (app.got_subcommand("devices")) return devices_command(line.devices_bench);
    if (app.got_subcommand("selftest")) return selftest_command(line.proven_bench);
    if (app.got_subcommand("trim")) return trim_command(line.trimmed_bench, line.meter);
    if (app.got_subcommand("wiring")) {
        line.wiring.with = pairs(line.with, "--with");
        return wiring_command(line.wiring);
    }
    if (app.got_subcommand("fleet")) {
        line.fleet.settings = pairs(line.set, "--set");
        return fleet_command(line.fleet);
    }
    if (app.got_subcommand("patch")) {
        line.patch.with = pairs(line.with, "--with");
        return patch_command(line.patch);
    }
    return explain_command(line.explained, line.explained_bench);
}

// With --bisect a rig that cannot be used must not count against the firmware. The arguments are
// asked themselves, since a parser that gave up has not stored all of them.
exit_status unusable(std::span<char*> arguments) {
    const bool bisect = std::ranges::any_of(arguments, [](const char* a) {
        const std::string_view word{a};
        return word == "--bisect" || word.starts_with("--bisect=");
    });
    return bisect ? exit_status::bisect_skip : exit_status::unusable;
}

std::string one_sentence(const CLI::App*, const CLI::Error& e) {
    return fmt::format("cvrig: {}; `cvrig --help` and `cvrig run --help` list what there is.\n",
                       e.what());
}

}  // namespace

int main(int argc, char** argv) {
    survive_file_size_limits();
    CLI::App app{"cvrig: proves a synth voice firmware build on the bench"};
    app.set_version_flag("--version", std::string{"cvrig " CVRIG_VERSION});
    app.require_subcommand(1);
    app.failure_message(one_sentence);
    const std::span arguments{argv, static_cast<std::size_t>(argc)};
    command_line line;
    add_run(app, line);
    add_calibrate(app, line);
    add_others(app, line);
    add_evidence(app, line);
    add_interface(app, line);
    add_bench_commands(app, line);
    add_cables(app, line);
    add_fleet(app, line);
    add_history_commands(app, line.history);
    add_service_commands(app, line.service);
    try {
        app.parse(argc, argv);
        return static_cast<int>(dispatch(app, line));
    } catch (const CLI::ParseError& e) {
        return app.exit(e) == 0 ? 0 : static_cast<int>(unusable(arguments));
    } catch (const user_error& e) {
        std::cerr << "cvrig: " << e.what() << '\n';
    } catch (const std::filesystem::filesystem_error& e) {
        std::cerr << "cvrig: " << e.path1().string() << ": " << e.code().message() << ".\n";
    } catch (const std::bad_alloc&) {
        std::cerr << "cvrig: There is not enough memory for this run.\n";
    }
    return static_cast<int>(unusable(arguments));
}
