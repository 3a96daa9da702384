#include "rig/cli/file_in_history.hpp"

#include <fmt/format.h>

#include <cstdlib>
#include <fstream>
#include <sstream>

#include "rig/cli/history_arguments.hpp"
#include "rig/evidence/read_report.hpp"
#include "rig/platform/user_folders.hpp"
#include "rig/platform/utc_now.hpp"

namespace cvrig {

namespace {

namespace fs = std::filesystem;

std::string text_of(const fs::path& file) {
    std::ifstream in{file, std::ios::binary};
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

}  // namespace

std::string named_history(const std::string& option) {
    if (!option.empty()) return option;
    const char* variable = std::getenv("CVRIG_HISTORY");
    return variable != nullptr ? variable : "";
}

std::string history_address(const std::string& option) {
    const auto named = named_history(option);
    if (named == "none") return {};
    if (!named.empty()) return named;
    const auto folder = data_folder();
    return folder.empty() ? std::string{} : (folder / "history.sqlite").string();
}

std::unique_ptr<history::database> asked_history(const history_arguments& a, history::opening how) {
    const auto address = history_address(a.address);
    if (address.empty())
        throw history::store_error{"There is no history to look at; name one with --history."};
    return history::open_history(address, how);
}

history::filed_run file_report_folder(history::database& in, const fs::path& folder) {
    const auto told = evidence::read_report_of(folder);
    std::error_code ignored;
    history::run_circumstances about;
    about.key = history::key_of_report(text_of(folder / "report.json"));
    about.filed = utc_now();
    about.report_folder = fs::absolute(folder).lexically_normal().string();
    about.takes_kept = fs::is_directory(folder / "takes", ignored);
    return history::file_run_alone(in, told, about);
}

run_filing::run_filing(const std::string& option) {
    const auto address = history_address(option);
    if (address.empty()) return;
    try {
        store_ = history::open_history(address, history::opening::to_write);
    } catch (const history::store_error& e) {
        if (!named_history(option).empty()) throw;
        trouble_ = e.what();
    }
}

filing_told run_filing::file(const fs::path& report_folder) {
    if (store_ != nullptr) {
        try {
            const auto filed = file_report_folder(*store_, report_folder);
            return {fmt::format("History: run {} in {}", filed.id, store_->address()), {}};
        } catch (const history::store_error& e) {
            trouble_ = e.what();
        }
    }
    if (trouble_.empty()) return {};
    return {{},
            fmt::format(
                "{} The run is complete in its report; `cvrig history --file {}` files it later.",
                trouble_, report_folder.string())};
}

}  // namespace cvrig
