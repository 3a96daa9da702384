#include "rig/cli/baseline_for.hpp"

#include <fmt/format.h>

#include "rig/evidence/read_report.hpp"

namespace cvrig {

std::vector<baseline_reading> baseline_for(const run_arguments& a, const module_expectations& m) {
    if (a.baseline.empty()) return {};
    const auto told = evidence::read_report_of(a.baseline);
    if (told.module != m.module)
        throw user_error{
            fmt::format("The baseline {} is a run of the module {}, and this file is for {}.",
                        a.baseline, told.module, m.module)};
    std::vector<baseline_reading> out;
    for (const auto& check : told.checks)
        for (const auto& f : check.findings) {
            const auto u = f.measured ? f.measured->own_uncertainty() : std::nullopt;
            if (u && f.measured->value)
                out.push_back({check.check, check.choice, f.name, *f.measured->value, *u,
                               told.started, told.build_name});
        }
    return out;
}

}  // namespace cvrig
