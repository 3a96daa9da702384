#include "rig/run/plan.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <iterator>
#include <span>

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

std::set<std::string> moved_by(std::span<const passage> passages) {
    std::set<std::string> jacks;
    for (const auto& p : passages)
        for (const auto& s : p.steps) {
            if (s.accent) jacks.insert("accent");
            if (s.slide) jacks.insert("slide");
            for (const auto& [jack, unused] : s.others) jacks.insert(jack);
        }
    return jacks;
}

std::vector<passage> passages_of(planned_check& planned, const module_expectations& m,
                                 const bench& b) {
    return planned.what->plan(
        {m, b, *planned.wanted, planned.choice, planned.attempt, planned.part});
}

score render_take(planned_take& take, const module_expectations& m, const bench& b) {
    std::vector<passage> passages;
    for (auto& planned : take.checks) {
        auto asked = passages_of(planned, m, b);
        planned.first_passage = passages.size();
        planned.passage_count = asked.size();
        planned.moved = moved_by(asked);
        std::ranges::move(asked, std::back_inserter(passages));
    }
    auto played = render(passages, m, b);
    for (const auto& planned : take.checks)
        if (planned.what->parts != nullptr)
            played.volts.part = fmt::format("{} part {}", planned.wanted->name, planned.part + 1);
    return played;
}

bool has_own_takes(const planned_take& take) {
    return std::ranges::any_of(take.checks,
                               [](const planned_check& c) { return c.what->parts != nullptr; });
}

seconds length_of(const score& played) {
    return seconds{static_cast<double>(played.volts.size()) / played.volts.rate.value()};
}

// Also a take that is rendered later is rendered once before anything sounds, so that a voltage
// outside the limits is refused then.
void prepare(planned_take& take, const module_expectations& m, const bench& b) {
    auto played = render_take(take, m, b);
    if (has_own_takes(take)) {
        take.rendered_later = length_of(played);
    } else {
        take.played = std::move(played);
    }
}

planned_take& take_for(std::vector<planned_take>& takes, const setting_choice& choice) {
    const auto found = std::ranges::find_if(takes, [&](const planned_take& take) {
        return take.choice == choice && !has_own_takes(take);
    });
    if (found != takes.end()) return *found;
    return takes.emplace_back(
        planned_take{.choice = choice, .attempt = 1, .checks = {}, .played = {}});
}

void add_own_takes(std::vector<planned_take>& takes, const planned_check& planned,
                   const module_expectations& m, const bench& b) {
    const auto parts =
        planned.what->parts({m, b, *planned.wanted, planned.choice, planned.attempt});
    for (std::size_t part = 0; part < parts; ++part) {
        auto one = planned;
        one.part = part;
        takes.push_back(
            {.choice = planned.choice, .attempt = 1, .checks = {std::move(one)}, .played = {}});
    }
}

void refuse_unknown(const module_expectations& m, const run_filter& filter) {
    for (const auto& name : filter.checks) {
        if (std::ranges::find(m.checks, name, &check_expectation::name) != m.checks.end()) continue;
        throw user_error{fmt::format("The expectation file {} has no check '{}'.", m.file, name)};
    }
}

}  // namespace

seconds planned_take::length() const {
    return rendered_later.value_or(length_of(played));
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
            planned_check planned{.what = what, .wanted = &wanted, .choice = choice};
            if (what->parts != nullptr)
                add_own_takes(plan.takes, planned, m, b);
            else
                take_for(plan.takes, choice).checks.push_back(std::move(planned));
        }
    }
    if (plan.takes.empty() && plan.by_facts.empty())
        throw user_error{"Nothing is left to run: no check has the settings asked for."};
    for (auto& take : plan.takes) prepare(take, m, b);
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
    prepare(take, m, b);
    return take;
}

score rendered(const planned_take& take, const module_expectations& m, const bench& b) {
    planned_take again{
        .choice = take.choice, .attempt = take.attempt, .checks = take.checks, .played = {}};
    return render_take(again, m, b);
}

}  // namespace cvrig
