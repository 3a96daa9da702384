#include "rig/run/by_facts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "rig/run/baseline.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

check_result judged(const planned_check& planned, const outside_facts& facts,
                    const module_expectations& m, const bench& b) {
    auto result =
        planned.what->judge_facts({m, b, *planned.wanted, planned.choice, planned.attempt}, facts);
    result.check = planned.wanted->name;
    result.reads = planned.what->spec.reads;
    result.measurement_version = planned.what->spec.measurement_version;
    // It does not depend on how the module is set.
    result.choice = {};
    for (auto& f : result.findings) f.choice = {};
    return result;
}

/// What the takes heard of restarts and what came between them count together.
void take_over(check_result& into, const finding& heard, double coverage_factor) {
    const auto own = std::ranges::find(into.findings, heard.name, &finding::name);
    if (own == into.findings.end()) {
        into.findings.push_back(heard);
        return;
    }
    finding both = worse(heard.outcome, own->outcome) == heard.outcome ? heard : *own;
    both.allowed = own->allowed ? own->allowed : heard.allowed;
    if (heard.measured && own->measured && both.allowed) {
        both.measured = heard.measured;
        both.measured->value += own->measured->value;
        if (judge(*both.measured, *both.allowed, coverage_factor) == verdict::fail) {
            if (both.outcome != verdict::fail)
                both.reason = fmt::format(
                    "The module restarted {:.0f} times, but the file demands "
                    "{}.",
                    both.measured->value, both.allowed->text);
            both.outcome = verdict::fail;
        }
    }
    // Without the console's own account nothing is known of what came between the takes.
    if (own->outcome == verdict::skipped && both.outcome == verdict::pass) both = *own;
    *own = std::move(both);
}

void merge_resets(check_result& into, std::vector<check_result>& results, double coverage_factor) {
    const auto heard = std::ranges::find(results, into.check, &check_result::check);
    if (heard == results.end()) return;
    for (const auto& f : heard->findings) take_over(into, f, coverage_factor);
    results.erase(heard);
}

}  // namespace

bool judges_by_facts(const run_plan& plan, std::string_view name) {
    return std::ranges::any_of(plan.by_facts,
                               [&](const planned_check& p) { return p.wanted->name == name; });
}

void add_by_facts(std::vector<check_result>& results, const run_plan& plan,
                  const outside_facts& facts, const module_expectations& m, const bench& b) {
    std::vector<check_result> added;
    for (const auto& planned : plan.by_facts) {
        added.push_back(judged(planned, facts, m, b));
        merge_resets(added.back(), results, m.coverage_factor);
    }
    std::ranges::move(added, std::back_inserter(results));
    skip_without_baseline(results);
    std::ranges::stable_sort(results, {}, [&](const check_result& r) {
        return std::ranges::find(m.checks, r.check, &check_expectation::name) - m.checks.begin();
    });
}

}  // namespace cvrig
