#include "rig/evidence/compare.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <tuple>
#include <utility>

namespace cvrig::evidence {

namespace {

/// Which demand it is: check, settings, name, and which one of that name.
using demand_key = std::tuple<std::string, setting_choice, std::string, std::size_t>;

struct keyed_finding {
    demand_key key;
    const told_finding* told;
};

std::vector<keyed_finding> findings_of(const told_run& run) {
    std::vector<keyed_finding> out;
    std::map<demand_key, std::size_t> seen;
    for (const auto& c : run.checks)
        for (const auto& f : c.findings) {
            const auto n = seen[{c.check, c.choice, f.name, 0}]++;
            out.push_back({{c.check, c.choice, f.name, n}, &f});
        }
    return out;
}

std::map<demand_key, const told_finding*> by_key(const std::vector<keyed_finding>& all) {
    std::map<demand_key, const told_finding*> out;
    for (const auto& f : all) out.emplace(f.key, f.told);
    return out;
}

void add_circumstance(std::vector<circumstance>& to, const char* what, const std::string& first,
                      const std::string& second) {
    if (first != second) to.push_back({what, first, second});
}

std::vector<circumstance> circumstances_of(const told_run& a, const told_run& b) {
    std::vector<circumstance> out;
    add_circumstance(out, "module", a.module, b.module);
    add_circumstance(out, "unit", a.unit, b.unit);
    add_circumstance(out, "build", a.build_name, b.build_name);
    add_circumstance(out, "firmware file", a.build_sha256, b.build_sha256);
    add_circumstance(out, "bench", a.bench_name, b.bench_name);
    add_circumstance(out, "bench file", a.bench_sha256, b.bench_sha256);
    add_circumstance(out, "expectation file", a.expectations_sha256, b.expectations_sha256);
    add_circumstance(out, "cvrig", a.rig_version, b.rig_version);
    return out;
}

setting_choice throughout_of(const told_run& a, const told_run& b) {
    std::vector<setting_choice> all;
    for (const auto* run : {&a, &b})
        for (const auto& c : run->checks) all.push_back(c.choice);
    return throughout(all);
}

/// One-sided: the part of a normal distribution below k standard deviations.
double sure_probability(double k) {
    return 1.0 - 0.5 * std::erfc(k / std::sqrt(2.0));
}

bool is_sure(const told_answer& a, double k) {
    return a.probability && *a.probability >= sure_probability(k);
}

/// Fills in how far two readings lie apart; false if that cannot be told.
bool set_difference(compared_finding& c, double k) {
    const auto& a = *c.first.measured;
    const auto& b = *c.second.measured;
    if (a.unit != b.unit || a.measurement_version != b.measurement_version || !a.value ||
        !b.value || !a.standard_uncertainty || !b.standard_uncertainty)
        return false;
    c.difference = *b.value - *a.value;
    const double allowed = k * std::hypot(*a.standard_uncertainty, *b.standard_uncertainty);
    const double apart = std::abs(*c.difference);
    c.times_allowed = apart == 0.0     ? 0.0
                      : allowed == 0.0 ? std::numeric_limits<double>::infinity()
                                       : apart / allowed;
    return true;
}

void compare_readings(comparison& out, compared_finding c) {
    if (!set_difference(c, out.coverage_factor)) {
        out.incomparable.push_back(std::move(c));
        return;
    }
    ++out.readings;
    if (*c.times_allowed > 0.0 &&
        (!out.farthest || *c.times_allowed > *out.farthest->times_allowed))
        out.farthest = c;
    if (*c.times_allowed > 1.0) out.differing.push_back(std::move(c));
}

void compare_answers(comparison& out, compared_finding c) {
    const bool same = c.first.answered->text == c.second.answered->text;
    const bool both_sure = is_sure(*c.first.answered, out.coverage_factor) &&
                           is_sure(*c.second.answered, out.coverage_factor);
    if (!same && !both_sure) {
        out.incomparable.push_back(std::move(c));
        return;
    }
    ++out.answers;
    if (!same) out.differing.push_back(std::move(c));
}

/// What a baseline adds to a reading's uncertainty belongs to its limit, not to the reading.
void leave_out_baseline(told_finding& f) {
    if (!f.measured) return;
    f.measured->standard_uncertainty = f.measured->own_uncertainty();
    f.measured->u_baseline = 0.0;
}

void compare_findings(comparison& out, compared_finding c) {
    leave_out_baseline(c.first);
    leave_out_baseline(c.second);
    if (c.first.outcome != c.second.outcome) out.other_verdicts.push_back(c);
    const auto& a = c.first;
    const auto& b = c.second;
    if (a.measured && b.measured)
        compare_readings(out, std::move(c));
    else if (a.answered && b.answered)
        compare_answers(out, std::move(c));
    // Two demands that nobody could judge have nothing to compare, and leave nothing open.
    else if (a.measured || b.measured || a.answered || b.answered)
        out.incomparable.push_back(std::move(c));
}

/// One passes and the other fails; what is unsure contradicts nothing.
bool is_sure_contradiction(const compared_finding& c) noexcept {
    const auto is_sure = [](verdict v) { return v == verdict::pass || v == verdict::fail; };
    return c.first.outcome != c.second.outcome && is_sure(c.first.outcome) &&
           is_sure(c.second.outcome);
}

lone_finding lone(const demand_key& key) {
    return {std::get<0>(key), std::get<1>(key), std::get<2>(key)};
}

}  // namespace

bool comparison::differs() const noexcept {
    return !differing.empty() || std::ranges::any_of(other_verdicts, is_sure_contradiction);
}

bool comparison::is_complete() const noexcept {
    return compared() > 0 && incomparable.empty() && only_first.empty() && only_second.empty() &&
           other_verdicts.empty();
}

double comparison::by_chance() const noexcept {
    return static_cast<double>(readings) * std::erfc(coverage_factor / std::sqrt(2.0));
}

comparison compare(const told_run& first, const told_run& second) {
    comparison out;
    out.circumstances = circumstances_of(first, second);
    out.throughout = throughout_of(first, second);
    out.coverage_factor = std::max(first.coverage_factor, second.coverage_factor);
    const auto of_first = findings_of(first);
    const auto of_second = findings_of(second);
    const auto in_first = by_key(of_first);
    const auto in_second = by_key(of_second);
    for (const auto& a : of_first) {
        const auto b = in_second.find(a.key);
        if (b == in_second.end())
            out.only_first.push_back(lone(a.key));
        else
            compare_findings(out, {std::get<0>(a.key), std::get<1>(a.key), std::get<2>(a.key),
                                   *a.told, *b->second});
    }
    for (const auto& b : of_second)
        if (!in_first.contains(b.key)) out.only_second.push_back(lone(b.key));
    return out;
}

}  // namespace cvrig::evidence
