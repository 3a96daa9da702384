#include "rig/service/job_report.hpp"

#include <algorithm>
#include <fstream>
#include <sstream>
#include <string_view>
#include <utility>

#include "rig/expectations/user_error.hpp"
#include "rig/history/file_run.hpp"

namespace cvrig::service {

namespace fs = std::filesystem;

bool has_reports(const fs::path& folder) {
    // They are written in this order.
    std::error_code ignored;
    return fs::is_regular_file(folder / "report.json", ignored) &&
           fs::is_regular_file(folder / "report.html", ignored);
}

void remove_reports(const fs::path& folder) {
    std::error_code ignored;
    for (const auto* name : {"report.html", "report.xml", "report.json"})
        fs::remove(folder / name, ignored);
}

read_job_report report_of(const job& j) {
    try {
        auto told = evidence::read_report_of(j.report_folder);
        if (told.commit.empty()) told.commit = j.commit;
        std::ifstream in{fs::path{j.report_folder} / "report.json", std::ios::binary};
        std::ostringstream text;
        text << in.rdbuf();
        return {std::move(told), {}, history::key_of_report(text.str())};
    } catch (const user_error& e) {
        return {std::nullopt, e.what(), {}};
    }
}

int exit_status_of(const evidence::told_run& run) noexcept {
    if (run.outcome == verdict::pass) return 0;
    return run.outcome == verdict::fail ? 1 : 3;
}

std::string last_complaint(const std::string& text) {
    std::string last;
    for (std::size_t at = 0; at < text.size();) {
        const auto end = std::min(text.find('\n', at), text.size());
        auto line = text.substr(at, end - at);
        if (!line.empty()) last = std::move(line);
        at = end + 1;
    }
    constexpr std::string_view name{"cvrig: "};
    return last.starts_with(name) ? last.substr(name.size()) : last;
}

}  // namespace cvrig::service
