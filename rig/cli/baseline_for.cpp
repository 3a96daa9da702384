#include "rig/cli/baseline_for.hpp"

#include <fmt/format.h>

#include <filesystem>

#include "rig/evidence/read_report.hpp"
#include "rig/history/baseline.hpp"
#include "rig/history/stored_run.hpp"

namespace cvrig {

namespace {

using evidence::told_run;

std::vector<baseline_reading> readings_of(const told_run& told, const std::string& run) {
    std::vector<baseline_reading> out;
    for (const auto& check : told.checks)
        for (const auto& f : check.findings) {
            const auto u = f.measured ? f.measured->own_uncertainty() : std::nullopt;
            if (u && f.measured->value)
                out.push_back({check.check, check.choice, f.name, *f.measured->value, *u, run,
                               told.build_name});
        }
    return out;
}

std::vector<baseline_reading> of_stored(history::database& in, const history::stored_run& run) {
    return readings_of(history::read_run(in, run), fmt::format("run {}", run.id));
}

void require_module(const std::string& named, const std::string& found,
                    const module_expectations& m) {
    if (found != m.module)
        throw user_error{
            fmt::format("The baseline {} is a run of the module {}, and this file is for {}.",
                        named, found, m.module)};
}

std::vector<baseline_reading> of_named(const run_arguments& a, const module_expectations& m,
                                       history::database* in) {
    if (in == nullptr || std::filesystem::is_directory(a.baseline)) {
        const auto told = evidence::read_report_of(a.baseline);
        require_module(a.baseline, told.module, m);
        return readings_of(told, told.started);
    }
    const auto run = history::find_run(*in, a.baseline);
    require_module(a.baseline, run.build.module, m);
    return of_stored(*in, run);
}

}  // namespace

std::vector<baseline_reading> baseline_for(const run_arguments& a, const module_expectations& m,
                                           const std::string& bench_name, history::database* in) {
    if (!a.baseline.empty()) return of_named(a, m, in);
    if (in == nullptr || !follows_baseline(m)) return {};
    const auto approved = history::baseline_of(*in, {m.module, a.unit, bench_name});
    return approved ? of_stored(*in, approved->run) : std::vector<baseline_reading>{};
}

}  // namespace cvrig
