#include "rig/cli/run_records.hpp"

#include <algorithm>
#include <utility>

#include "rig/fleet/record_store.hpp"
#include "rig/fleet/unit_on_bench.hpp"

namespace cvrig {

namespace {

bool plays_tracking(const run_plan& plan) {
    return std::ranges::any_of(plan.takes, [](const planned_take& t) {
        return std::ranges::any_of(
            t.checks, [](const planned_check& c) { return c.wanted->name == "tracking"; });
    });
}

void require_names(const std::string& unit, const std::string& build) {
    if (unit.empty())
        throw user_error{
            "A record of tracking must name the unit that it was made on: add --unit, or a "
            "question "
            "'serial number' to the expectation file's section 'console'."};
    if (build.empty())
        throw user_error{
            "A record of tracking must name the build that it was made with: add --build-name or "
            "--image."};
}

}  // namespace

run_records::run_records(const run_arguments& a, const run_plan& plan, const module_expectations& m,
                         const std::string& build_name, bench_session& session)
    : folder_{plays_tracking(plan) ? a.runs_folder : std::string{}},
      in_force_{a.constants},
      unit_{a.unit} {
    if (m.console && m.console->serial_number) {
        auto* talks = talks_of(session);
        auto serial = talks ? told_serial_number(*talks, *m.console, a.unit) : std::string{};
        if (!serial.empty()) unit_ = std::move(serial);
    }
    if (folder_.empty()) return;
    require_names(unit_, build_name);
    prepare_record_folder(folder_);
}

/// Where nobody named the unit, readings of two must not be taken for one's; yet a console that fails only then
/// spoils no run.
console* run_records::talks_of(bench_session& session) const {
    if (!folder_.empty()) return session.early_talks();
    if (!unit_.empty()) return session.talks();
    try {
        return session.early_talks();
    } catch (const user_error&) {
        return nullptr;
    }
}

void run_records::file_one(tracking_record record) const {
    if (folder_.empty() || record.notes.empty()) return;
    record.unit = unit_;
    file_record(folder_, record);
}

std::vector<std::filesystem::path> run_records::file(const run_result& run,
                                                     const module_expectations& m) const {
    std::vector<std::filesystem::path> filed;
    if (folder_.empty()) return filed;
    auto about = about_run(run, m.pitch.per_octave.value());
    about.unit = unit_;
    about.in_force = in_force_;
    for (const auto& result : run.checks) {
        if (result.check != "tracking") continue;
        const auto record = record_of(result, about);
        if (!record.notes.empty()) filed.push_back(file_record(folder_, record));
    }
    return filed;
}

}  // namespace cvrig
