#include "rig/report/map_columns.hpp"

#include <algorithm>

namespace cvrig::report {

namespace {

constexpr double least_share_of_column = 0.25;

bool is_worth_a_column(const run_layout& layout, const setting_choice& choice) {
    const auto asked = std::count_if(
        layout.checks.begin(), layout.checks.end(),
        [&](const check_group& group) { return layout.outcome_of(group, choice).has_value(); });
    return static_cast<double>(asked) >=
           least_share_of_column * static_cast<double>(layout.checks.size());
}

}  // namespace

map_columns columns_of_map(const run_layout& layout) {
    map_columns out;
    for (const auto& choice : layout.choices) {
        (is_worth_a_column(layout, choice) ? out.own : out.shared).push_back(choice);
    }
    // Alone, it takes no more room as a column of its own.
    if (out.shared.size() == 1) return {.own = layout.choices, .shared = {}};
    return out;
}

}  // namespace cvrig::report
