#include "rig/cli/report_files.hpp"

#include <fmt/format.h>
#include <array>
#include <iostream>
#include <utility>
#include <vector>

#include "rig/expectations/user_error.hpp"
#include "rig/platform/files.hpp"
#include "rig/platform/terminal.hpp"
#include "rig/report/clip_file.hpp"
#include "rig/report/html.hpp"
#include "rig/report/json.hpp"
#include "rig/report/junit.hpp"
#include "rig/report/terminal.hpp"
#include "rig/stimulus/wave_file.hpp"

namespace cvrig {

namespace fs = std::filesystem;

namespace {

constexpr std::array<const char*, 3> report_names{"report.json", "report.xml", "report.html"};

// An earlier run's; what else a user keeps there stays.
void remove_sounds(const fs::path& folder) {
    std::error_code error;
    for (fs::directory_iterator at{folder / report::clip_folder, error}, end; !error && at != end;
         at.increment(error))
        if (at->path().extension() == ".wav") fs::remove(at->path(), error);
}

void write_sound(const fs::path& file, const sound_clip& clip) {
    recording scaled{clip.rate, clip.channels};
    for (auto& channel : scaled.channels)
        for (float& v : channel)
            v = static_cast<float>(static_cast<double>(v) / report::clip_full_scale.value());
    write_wave_file(file, scaled);
}

void write_sounds(const fs::path& folder, const run_result& result) {
    for (const auto& check : result.checks)
        for (const auto& clip : check.clips) {
            std::error_code error;
            fs::create_directories(folder / report::clip_folder, error);
            if (error)
                throw user_error{fmt::format("The folder {} for sounds cannot be made: {}.",
                                             (folder / report::clip_folder).string(),
                                             error.message())};
            write_sound(folder / report::clip_file(check, clip), clip);
        }
}

}  // namespace

void prepare_report_folder(const fs::path& folder) {
    std::error_code error;
    fs::create_directories(folder, error);
    if (error || !fs::is_directory(folder))
        throw user_error{fmt::format(
            "The report folder {} cannot be made: {}; choose another with --report.",
            folder.string(), error ? error.message() : "a file of that name is in the way")};
    // A trial file tells now, and not after a minute of sound, that nothing can be written there.
    const auto trial = folder / "trial.tmp";
    write_file_atomically(trial, "trial\n");
    fs::remove(trial, error);
    // If this run is stopped, an earlier one's reports would pass for its own.
    for (const auto* name : report_names) fs::remove(folder / name, error);
    remove_sounds(folder);
}

void write_reports(const fs::path& folder, const run_result& result) {
    const std::array<std::pair<fs::path, std::string>, 3> reports{
        {{folder / report_names[0], json_report(result)},
         {folder / report_names[1], junit_report(result)},
         {folder / report_names[2], html_report(result, built_in_assets())}}};
    std::vector<fs::path> written;
    try {
        for (const auto& [file, text] : reports) {
            write_file_atomically(file, text);
            written.push_back(file);
        }
    } catch (const user_error&) {
        // Some of the reports without the others would pass for a whole run.
        std::error_code ignored;
        for (const auto& file : written) fs::remove(file, ignored);
        throw;
    }
    write_sounds(folder, result);  // last: a run without its sounds is better than without a report
}

void print_result(const run_result& result, const fs::path& folder, bool quiet) {
    if (quiet) {
        std::cout << fmt::format("{}: {} {}, {} met, {} not met, {} unsure\n",
                                 in_words(result.outcome()), result.module, result.build_name,
                                 result.count(verdict::pass), result.count(verdict::fail),
                                 result.count(verdict::unsure));
        return;
    }
    std::cout << terminal_table(result, output_style())
              << "\nReport: " << (folder / "report.html").string() << '\n';
}

}  // namespace cvrig
