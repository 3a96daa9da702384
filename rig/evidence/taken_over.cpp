#include "rig/evidence/taken_over.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <string_view>

namespace cvrig::evidence {

namespace {

bool needs_image(std::string_view check, std::string_view finding) {
    return check == "image" || (check == "console" && finding == "identity");
}

finding as_packed(const std::string& check, const told_finding& told, const std::string& version) {
    finding out;
    out.check = check;
    out.name = told.name;
    out.outcome = told.outcome;
    out.reason = told.reason;
    out.does_not_apply = told.does_not_apply;
    if (told.measured && told.measured->value) {
        out.measured = reading{*told.measured->value,
                               told.measured->unit,
                               told.measured->standard_uncertainty.value_or(0.0),
                               {},
                               told.measured->at};
        out.allowed = limit{{}, {}, {}, told.measured->unit, told.demand};
    }
    if (told.answered) {
        out.answered = answer{told.answered->text,
                              told.answered->probability.value_or(0.0),
                              told.answered->probability_of_expected.value_or(0.0),
                              {}};
        out.expected = word{told.demand};
    }
    out.notes.push_back(
        fmt::format("As cvrig {} read it: the firmware file is not in the evidence.", version));
    return out;
}

/// Each at the place that it had.
void take_over(check_result& now, const told_check& then, const std::string& version) {
    std::erase_if(now.findings, [&](const finding& f) { return needs_image(now.check, f.name); });
    for (std::size_t i = 0; i < then.findings.size(); ++i) {
        if (!needs_image(then.check, then.findings[i].name)) continue;
        const auto at = static_cast<std::ptrdiff_t>(std::min(i, now.findings.size()));
        now.findings.insert(now.findings.begin() + at,
                            as_packed(then.check, then.findings[i], version));
    }
}

}  // namespace

void take_over_image(run_result& now, const told_run& packed) {
    for (auto& check : now.checks) {
        const auto then = std::ranges::find(packed.checks, check.check, &told_check::check);
        if (then != packed.checks.end() && (check.check == "image" || check.check == "console"))
            take_over(check, *then, packed.rig_version);
    }
}

told_run without_image(told_run run) {
    for (auto& check : run.checks)
        std::erase_if(check.findings,
                      [&](const told_finding& f) { return needs_image(check.check, f.name); });
    return run;
}

}  // namespace cvrig::evidence
