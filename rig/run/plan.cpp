#include "rig/run/plan.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <iterator>

namespace cvrig {

namespace {

bool is_named(const check_expectation& wanted, const run_filter& filter) {
    return filter.checks.empty() ||
           std::ranges::find(filter.checks, wanted.name) != filter.checks.end();
}

setting_choice first_choice(const check_expectation& wanted) {
    return wanted.in.empty() ? setting_choice{} : wanted.in.front();
}

bool selected(const check_expectation& wanted, const setting_choice& choice,
              const run_filter& filter) {
    if (!is_named(wanted, filter)) return false;
    return std::ranges::all_of(filter.settings, [&](const auto& only) {
        const auto found = choice.find(only.first);
        return found != choice.end() && found->second == only.second;
    });
}

void render_take(planned_take& take, const module_expectations& m, const bench& b) {
    std::vector<passage> passages;
    for (auto& planned : take.checks) {
        const check_request request{m, b, *planned.wanted, planned.choice, planned.attempt};
        auto asked = planned.what->plan(request);
        planned.first_passage = passages.size();
        planned.passage_count = asked.size();
        std::ranges::move(asked, std::back_inserter(passages));
    }
    take.played = render(passages, m, b);
}

planned_take& take_for(std::vector<planned_take>& takes, const setting_choice& choice) {
    const auto found = std::ranges::find(takes, choice, &planned_take::choice);
    if (found != takes.end()) return *found;
    return takes.emplace_back(
        planned_take{.choice = choice, .attempt = 1, .checks = {}, .played = {}});
}

void refuse_unknown(const module_expectations& m, const run_filter& filter) {
    for (const auto& name : filter.checks) {
        if (std::ranges::find(m.checks, name, &check_expectation::name) != m.checks.end()) continue;
        throw user_error{fmt::format("The expectation file {} has no check '{}'.", m.file, name)};
    }
}

}  // namespace

seconds planned_take::length() const {
    if (played.volts.volts.empty()) return seconds{0.0};
    return seconds{static_cast<double>(played.volts.volts.front().size()) /
                   played.volts.rate.value()};
}

seconds run_plan::sound() const {
    seconds all{0.0};
    for (const auto& take : takes) all += take.length();
    return all;
}

run_plan plan_run(const module_expectations& m, const bench& b, const run_filter& filter) {
    refuse_unknown(m, filter);
    run_plan plan;
    for (const auto& wanted : m.checks) {
        const check* what = find_check(wanted.name);
        if (what == nullptr) continue;  // the reader of the file has refused unknown checks already
        if (what->judge_facts != nullptr) {
            if (is_named(wanted, filter))
                plan.by_facts.push_back(
                    {.what = what, .wanted = &wanted, .choice = first_choice(wanted)});
            continue;
        }
        for (const auto& choice : wanted.in) {
            if (!selected(wanted, choice, filter)) continue;
            take_for(plan.takes, choice)
                .checks.push_back({.what = what, .wanted = &wanted, .choice = choice});
        }
    }
    if (plan.takes.empty() && plan.by_facts.empty())
        throw user_error{"Nothing is left to run: no check has the settings asked for."};
    for (auto& take : plan.takes) render_take(take, m, b);
    return plan;
}

planned_take plan_retake(const module_expectations& m, const bench& b,
                         std::vector<planned_check> again) {
    planned_take take{.choice = again.front().choice,
                      .attempt = again.front().attempt + 1,
                      .checks = {},
                      .played = {}};
    take.checks = std::move(again);
    for (auto& planned : take.checks) planned.attempt = take.attempt;
    render_take(take, m, b);
    return take;
}

}  // namespace cvrig
