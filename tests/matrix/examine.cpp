#include "tests/matrix/examine.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "rig/run/runner.hpp"
#include "tests/matrix/ferrule_link.hpp"

namespace cvrig::testing {

namespace {

std::string described(const finding& f) {
    std::vector<std::string> held;
    for (const auto& [name, value] : f.choice)
        if (!name.ends_with("knob")) held.push_back(value);
    std::string text = fmt::format("{} {} ({})", f.check, f.name, fmt::join(held, ", "));
    if (f.measured) {
        text += fmt::format(" {} +- {}", show(f.measured->value, f.measured->unit),
                            show(2.0 * f.measured->standard_uncertainty, f.measured->unit, 2));
        if (!f.measured->at.empty()) text += " at " + f.measured->at;
    }
    if (f.answered)
        text += fmt::format(" {}, odds of the demanded answer {:.3g}", f.answered->text,
                            f.answered->probability_of_expected);
    if (f.allowed) text += fmt::format(", demanded {}", f.allowed->text);
    if (!f.measured && !f.answered) text += " " + f.reason;
    return fmt::format("{}: {}", in_words(f.outcome), text);
}

// One check in all its choices of settings.
struct judgement {
    verdict outcome{verdict::pass};
    std::vector<std::string> not_passed;
};
using judgements = std::map<std::string, judgement>;

judgements play(const trial& t, unsigned unit, const std::string& fault, row_result& into) {
    ferrule_link to_module{unit, fault};
    judgements out;
    const auto plan = plan_run(t.module, t.desk, {.checks = t.checks, .settings = {}});
    for (const auto& result : run(plan, to_module, t.module, t.desk, {}).checks) {
        auto& j = out[result.check];
        j.outcome = worse(j.outcome, result.outcome());
        for (const auto& f : result.findings) {
            into.readings.push_back(fmt::format("unit {}: {}", unit, described(f)));
            if (f.outcome != verdict::pass) j.not_passed.push_back(described(f));
        }
    }
    ++into.runs;
    for (const auto& [check, j] : out) {
        auto& sum = into.checks[check];
        ++(j.outcome == verdict::pass   ? sum.pass
           : j.outcome == verdict::fail ? sum.fail
                                        : sum.unsure);
    }
    return out;
}

void add(row_result& r, deviation_kind kind, unsigned unit, const std::string& check,
         const judgement& j) {
    std::string text =
        fmt::format("{}: unit {}: {} is {}", r.label, unit, check, in_words(j.outcome));
    for (const auto& f : j.not_passed) text += "\n      " + f;
    r.deviations.push_back({kind, std::move(text)});
}

void expect_failures(row_result& r, const fault_row& row, unsigned unit, const judgements& found) {
    for (const auto& [check, j] : found) {
        if (lists(row.must, check)) {
            if (j.outcome == verdict::pass) add(r, deviation_kind::false_pass, unit, check, j);
            if (j.outcome == verdict::unsure) add(r, deviation_kind::not_seen, unit, check, j);
        } else if (j.outcome != verdict::pass && !lists(row.also, check)) {
            add(r, deviation_kind::false_alarm, unit, check, j);
        }
    }
}

// A table that demands a check which the expectation file does not have would demand nothing.
void expect_played(row_result& r, const trial& t, const fault_row& row, const judgements& found) {
    if (!t.checks.empty()) return;
    for (const auto& check : all_specs())
        if (lists(row.must, check.name) && !found.contains(check.name))
            r.deviations.push_back({deviation_kind::not_seen,
                                    fmt::format("{}: {} is not played", r.label, check.name)});
}

void expect_passes(row_result& r, unsigned unit, const judgements& found) {
    for (const auto& [check, j] : found)
        if (j.outcome != verdict::pass) add(r, deviation_kind::false_alarm, unit, check, j);
}

row_result examine_passing(const trial& t, std::string label, const std::string& fault) {
    row_result r;
    r.label = std::move(label);
    for (unsigned unit = t.first_unit; unit <= t.last_unit; ++unit)
        expect_passes(r, unit, play(t, unit, fault, r));
    return r;
}

// How much of a fault is there that has no tolerance.
std::string presence(const fault_row& row) {
    return row.at_tolerance == 1.0 ? "present" : fmt::format("{:g}", row.at_tolerance);
}

}  // namespace

bool lists(std::string_view list, std::string_view word) {
    return fmt::format(",{},", list).find(fmt::format(",{},", word)) != std::string::npos;
}

row_result examine_good(const trial& t) {
    return examine_passing(t, "good build", "");
}

row_result examine_half(const trial& t, const fault_row& row) {
    return examine_passing(t, fmt::format("{} x 0.5", row.name),
                           fmt::format("{}:{}", row.name, 0.5 * row.at_tolerance));
}

row_result examine_beyond(const trial& t, const fault_row& row) {
    row_result r;
    r.label = row.is_switch ? fmt::format("{}, {}", row.name, presence(row))
                            : fmt::format("{} x 1.5", row.name);
    const double size = row.is_switch ? row.at_tolerance : 1.5 * row.at_tolerance;
    for (unsigned unit = t.first_unit; unit <= t.last_unit; ++unit) {
        const auto found = play(t, unit, fmt::format("{}:{}", row.name, size), r);
        expect_played(r, t, row, found);
        expect_failures(r, row, unit, found);
    }
    return r;
}

}  // namespace cvrig::testing
