#include "rig/run/baseline.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <utility>

#include "rig/checks/check.hpp"
#include "rig/expectations/baseline_limit.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

bool hears(const check_expectation& wanted) {
    const auto* what = find_check(wanted.name);
    return what == nullptr || what->spec.hears;
}

const baseline_reading* find(std::span<const baseline_reading> known,
                             const check_expectation& wanted, const setting_choice& choice,
                             const std::string& key) {
    const auto settings = hears(wanted) ? choice : setting_choice{};
    const auto found = std::ranges::find_if(known, [&](const baseline_reading& r) {
        return r.check == wanted.name && r.name == key && r.settings == settings;
    });
    return found == known.end() ? nullptr : &*found;
}

/// Calls `act` with every limit of a check that follows a baseline, and the choice that it is of.
void each_demand(
    const check_expectation& wanted,
    const std::function<void(const std::string&, const setting_choice&, const limit&)>& act) {
    auto choices = wanted.in;
    // What is judged by facts is also looked up without any settings.
    if (!hears(wanted)) choices.emplace_back();
    for (const auto& [key, held] : wanted.keys)
        for (const auto& choice : choices) {
            const auto* said = held.find(choice);
            const auto* allowed = said == nullptr ? nullptr : std::get_if<limit>(said);
            if (allowed != nullptr && allowed->of_baseline) act(key, choice, *allowed);
        }
}

bool is_level(dimension unit) {
    return unit == dimension::decibels || unit == dimension::dbu;
}

double size_of(const reading& r) {
    return is_level(r.unit) ? r.value : std::abs(r.value);
}

/// The largest, or the smallest where only that is limited.
const reading& standing_for(const std::vector<reading>& all, const baseline_demand& demand) {
    const auto by_size = [](const reading& a, const reading& b) { return size_of(a) < size_of(b); };
    return demand.limits_above ? *std::ranges::max_element(all, by_size)
                               : *std::ranges::min_element(all, by_size);
}

void turn_sign(limit& allowed) {
    std::swap(allowed.lower, allowed.upper);
    for (auto* number : {&allowed.lower, &allowed.upper, &allowed.nominal})
        if (*number) *number = -**number;
}

/// Of several readings only the size counts, but for levels.
limit limit_for(const reading& r, const limit& demanded, bool is_one_of_many) {
    auto out = demanded;
    if (!is_one_of_many || is_level(r.unit)) return out;
    out.nominal = std::abs(demanded.nominal.value_or(0.0));
    if (const auto sides = sides_about(*out.nominal, *demanded.of_baseline)) {
        out.lower = sides->lower;
        out.upper = sides->upper;
    }
    if (r.value < 0.0) turn_sign(out);
    return out;
}

/// What is smaller than the largest must not exceed the limit either, but may be as small as it likes.
limit without_inner_side(limit allowed, const reading& r) {
    const bool is_turned = !is_level(r.unit) && r.value < 0.0;
    (is_turned ? allowed.upper : allowed.lower).reset();
    return allowed;
}

reading with_part_of_baseline(reading r, double u) {
    if (u == 0.0) return r;
    r.budget.push_back({"baseline", u});
    r.standard_uncertainty = std::hypot(r.standard_uncertainty, u);
    return r;
}

std::string origin(const baseline_reading& r) {
    return (r.build.empty() ? "run " + r.run : "build " + r.build) + r.elsewhere;
}

}  // namespace

bool follows_baseline(const module_expectations& m) {
    bool any = false;
    for (const auto& wanted : m.checks)
        each_demand(wanted,
                    [&](const std::string&, const setting_choice&, const limit&) { any = true; });
    return any;
}

module_expectations with_baseline(module_expectations m, std::span<const baseline_reading> known) {
    for (auto& wanted : m.checks) {
        std::vector<resolved_limit> all;
        each_demand(wanted, [&](const std::string& key, const setting_choice& choice,
                                const limit& demanded) {
            const auto* r = find(known, wanted, choice, key);
            if (r == nullptr) return;
            all.push_back(
                {key, choice, resolved(demanded, r->value, r->standard_uncertainty, origin(*r))});
        });
        wanted.resolved = std::move(all);
    }
    return m;
}

std::vector<baseline_reading> followed(const module_expectations& m,
                                       std::span<const baseline_reading> known) {
    std::vector<const baseline_reading*> used;
    for (const auto& wanted : m.checks)
        each_demand(wanted,
                    [&](const std::string& key, const setting_choice& choice, const limit&) {
                        const auto* r = find(known, wanted, choice, key);
                        if (r != nullptr && std::ranges::find(used, r) == used.end())
                            used.push_back(r);
                    });
    std::vector<baseline_reading> out;
    for (const auto* r : used) out.push_back(*r);
    return out;
}

double u_of_baseline(const limit& allowed) noexcept {
    return allowed.of_baseline ? allowed.of_baseline->standard_uncertainty.value_or(0.0) : 0.0;
}

void set_against_baseline(finding& f, double coverage_factor) {
    const auto& r = standing_for(f.all, *f.allowed->of_baseline);
    if (f.allowed->lacks_baseline()) {
        f.measured = r;
        f.outcome = verdict::skipped;
        f.reason = no_baseline_for(*f.allowed);
        return;
    }
    const bool many = f.all.size() > 1;
    const auto demanded = *f.allowed;
    const auto* shown = &r;
    f.outcome = judge(r, limit_for(r, demanded, many), coverage_factor);
    for (const auto& other : f.all) {
        auto allowed = limit_for(other, demanded, many);
        if (demanded.of_baseline->limits_above) allowed = without_inner_side(allowed, other);
        const auto v = &other == &r ? f.outcome : judge(other, allowed, coverage_factor);
        if (worse(v, f.outcome) != v || v == f.outcome) continue;
        f.outcome = v;
        shown = &other;
    }
    f.allowed = limit_for(*shown, demanded, many);
    f.measured = with_part_of_baseline(*shown, u_of_baseline(*f.allowed));
}

void skip_without_baseline(std::vector<check_result>& results) {
    for (auto& result : results)
        for (auto& f : result.findings) {
            if (!f.allowed || !f.allowed->lacks_baseline() || !f.measured) continue;
            f.outcome = verdict::skipped;
            f.reason = no_baseline_for(*f.allowed);
        }
}

std::string no_baseline_for(const limit& demanded) {
    return fmt::format(
        "There is no baseline that '{}' could follow; approve a run with `cvrig baseline approve "
        "RUN`.",
        demanded.text);
}

}  // namespace cvrig
