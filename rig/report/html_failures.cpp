#include <fmt/format.h>
#include <fmt/ranges.h>
#include <algorithm>

#include "rig/report/html_parts.hpp"
#include "rig/report/phrases.hpp"

namespace cvrig::report {

namespace {

/// "176.2 ms ± 0.19 ms (tied)"; without a reading, why it fails.
std::string told(const demand_row& row, const run_layout& layout, double coverage_factor) {
    const auto& f = *row.what;
    auto text = f.measured || f.answered ? reading_text(f, coverage_factor)
                                         : fmt::format("{}", fmt::join(explanation(f), " "));
    if (layout.choices.size() > 1) text += fmt::format(" ({})", layout.label(row.where->choice));
    return text;
}

bool fails(const demand_group& demand) {
    for (const auto& row : demand.rows)
        if (row.what->outcome == verdict::fail) return true;
    return false;
}

/// One line for each limit that a demand has, with what was read against it in every setting.
void add_demand(markup& page, const demand_group& demand, const run_layout& layout,
                double coverage_factor) {
    std::vector<std::pair<std::string, std::vector<std::string>>> by_limit;
    for (const auto& row : demand.rows) {
        if (row.what->outcome != verdict::fail) continue;
        const auto limit = demand_text(*row.what);
        auto same = std::ranges::find(by_limit, limit, [](const auto& one) { return one.first; });
        if (same == by_limit.end()) same = by_limit.insert(same, {limit, {}});
        same->second.push_back(told(row, layout, coverage_factor));
    }
    for (const auto& [limit, readings] : by_limit) {
        page.open("li");
        page.leaf("b", title_of(demand));
        page.text(fmt::format(": {}; demanded: {}", fmt::join(readings, ", "), limit));
        page.close();
    }
}

void add_check(markup& page, const check_group& group, const run_layout& layout,
               double coverage_factor) {
    page.open("li");
    page.open("a", {{"href", fmt::format("#{}", anchor_of(group, layout))}});
    page.text(group.check);
    page.close();
    page.open("ul");
    for (const auto& demand : group.demands)
        if (fails(demand)) add_demand(page, demand, layout, coverage_factor);
    page.close();
    page.close();
}

}  // namespace

void add_failures(markup& page, const run_result& run, const run_layout& layout) {
    if (run.count(verdict::fail) == 0) return;
    page.leaf("h2", "What fails");
    page.open("ul", {{"class", "failures"}});
    for (const auto& group : layout.checks)
        if (group.outcome() == verdict::fail) add_check(page, group, layout, run.coverage_factor);
    page.close();
}

}  // namespace cvrig::report
