#include "rig/cli/baseline_for.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <optional>

#include "rig/checks/check.hpp"
#include "rig/evidence/read_report.hpp"
#include "rig/history/baseline.hpp"
#include "rig/history/stored_run.hpp"

namespace cvrig {

namespace {

using evidence::told_run;

/// Where the run that is to be judged is made.
struct judged_place {
    std::string unit, bench;
};

/// How this cvrig measures for a check; nothing if it has no such check.
std::optional<int> measurement_version_of(const std::string& check) {
    for (const auto& spec : all_specs())
        if (spec.name == check) return spec.measurement_version;
    return std::nullopt;
}

std::vector<baseline_reading> readings_of(const told_run& told, const std::string& run,
                                          const std::string& elsewhere = {}) {
    std::vector<baseline_reading> out;
    for (const auto& check : told.checks) {
        const auto version = measurement_version_of(check.check);
        for (const auto& f : check.findings) {
            const auto u = f.measured ? f.measured->own_uncertainty() : std::nullopt;
            if (u && f.measured->value && f.measured->measurement_version == version)
                out.push_back({check.check, check.choice, f.name, *f.measured->value, *u, run,
                               told.build_name, elsewhere});
        }
    }
    return out;
}

/// What a limit says that follows a run of another unit or bench.
std::string elsewhere(const told_run& told, const judged_place& here) {
    std::string out;
    if (told.unit != here.unit)
        out += fmt::format(" of unit {}", told.unit.empty() ? "-" : told.unit);
    if (told.bench_name != here.bench) out += fmt::format(" on bench {}", told.bench_name);
    return out;
}

void require_module(const std::string& named, const std::string& found,
                    const module_expectations& m) {
    if (found != m.module)
        throw user_error{
            fmt::format("The baseline {} is a run of the module {}, and this file is for {}.",
                        named, found, m.module)};
}

std::vector<baseline_reading> of_named(const std::string& named, const module_expectations& m,
                                       const judged_place& here, history::database* in) {
    if (in == nullptr || std::filesystem::is_directory(named)) {
        const auto told = evidence::read_report_of(named);
        require_module(named, told.module, m);
        return readings_of(told, told.started, elsewhere(told, here));
    }
    const auto run = history::find_run(*in, named);
    require_module(named, run.build.module, m);
    const auto told = history::read_run(*in, run);
    return readings_of(told, fmt::format("{}", run.id), elsewhere(told, here));
}

}  // namespace

std::vector<baseline_reading> baseline_for(const run_arguments& a, const module_expectations& m,
                                           const std::string& unit, const std::string& bench_name,
                                           history::database* in) {
    if (!a.baseline.empty()) return of_named(a.baseline, m, {unit, bench_name}, in);
    if (in == nullptr || !follows_baseline(m)) return {};
    const auto approved = history::baseline_of(*in, {m.module, unit, bench_name});
    if (!approved) return {};
    return readings_of(history::read_run(*in, approved->run), fmt::format("{}", approved->run.id));
}

}  // namespace cvrig
