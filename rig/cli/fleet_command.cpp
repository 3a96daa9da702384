#include <fmt/format.h>

#include <filesystem>
#include <iostream>
#include <vector>

#include "rig/cli/commands.hpp"
#include "rig/expectations/quantity.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/fleet/fleet.hpp"
#include "rig/fleet/record_store.hpp"
#include "rig/platform/files.hpp"
#include "rig/platform/terminal.hpp"
#include "rig/report/fleet_html.hpp"
#include "rig/report/fleet_json.hpp"
#include "rig/report/fleet_text.hpp"

namespace cvrig {

namespace {

namespace fs = std::filesystem;

double limit_from(const std::string& text) {
    const auto read = parse_quantity(text, {dimension::cents, "--limit", "5 cent"});
    if (!read) throw user_error{read.error()};
    if (!(*read > 0.0))
        throw user_error{fmt::format("--limit must be above 0 cent, and here is {}.", text)};
    return *read;
}

records_read read_all(const fleet_arguments& a) {
    const std::vector<fs::path> folders{a.folders.begin(), a.folders.end()};
    auto read = read_records(folders);
    for (const auto& sentence : read.broken) std::cerr << "cvrig: " << sentence << '\n';
    if (read.records.empty())
        throw user_error{
            fmt::format("There is no tracking record in {}; make some with `cvrig run "
                        "--runs`.",
                        listed(a.folders))};
    return read;
}

void write_files(const fs::path& folder, const fleet_answer& answer) {
    std::error_code error;
    fs::create_directories(folder, error);
    if (error)
        throw user_error{
            fmt::format("The report folder {} cannot be made: {}; choose another with "
                        "--report.",
                        folder.string(), error.message())};
    write_file_atomically(folder / "fleet.json", fleet_json(answer, CVRIG_VERSION));
    write_file_atomically(folder / "fleet.html",
                          fleet_page(answer, CVRIG_VERSION, built_in_assets()));
}

}  // namespace

exit_status fleet_command(const fleet_arguments& a) {
    fleet_question question;
    question.build = a.build;
    question.settings = a.settings;
    question.limit_cents = limit_from(a.limit);
    auto read = read_all(a);
    std::vector<tracking_record> records;
    for (auto& filed : read.records) records.push_back(std::move(filed.record));
    auto answer = answer_fleet(records, question);
    answer.unreadable = std::move(read.broken);
    answer.unreadable.insert(answer.unreadable.end(), read.repeated.begin(), read.repeated.end());
    if (!a.report_folder.empty()) write_files(a.report_folder, answer);
    if (a.json) {
        std::cout << fleet_json(answer, CVRIG_VERSION);
    } else {
        std::cout << fleet_text(answer, output_style());
        if (!a.report_folder.empty())
            std::cout << "\nReport: " << (fs::path{a.report_folder} / "fleet.html").string()
                      << '\n';
    }
    return answer.says_anything() ? exit_status::passed : exit_status::undecided;
}

}  // namespace cvrig
