#include "rig/fleet/fleet.hpp"

#include <algorithm>

namespace cvrig {

bool fleet_answer::says_anything() const noexcept {
    return !defaults.empty() || !scatter.sources.empty() ||
           std::ranges::any_of(changes, [](const build_change& c) { return !c.ends.empty(); });
}

std::vector<double> limits_of(const fleet_question& question) {
    std::vector<double> all{3.0, 5.0, 10.0, question.limit_cents};
    std::ranges::sort(all);
    all.erase(std::unique(all.begin(), all.end()), all.end());
    return all;
}

fleet_answer answer_fleet(std::span<const tracking_record> records,
                          const fleet_question& question) {
    fleet_answer a;
    a.asked = question;
    a.chosen = select(records, question);
    if (auto defaults = compare_defaults(a.chosen, limits_of(question), question.coverage_factor)) {
        a.defaults = std::move(*defaults);
        a.unseen = unseen_shares(a.defaults);
        a.unseen_worst_units = unseen_worsts(a.defaults);
        a.normal = normal_bounds(a.chosen, a.defaults);
    }
    a.odd = find_outliers(a.chosen);
    a.scatter = tell_unit_from_build(a.chosen);
    a.changes = find_build_changes(a.chosen, question.limit_cents, question.coverage_factor);
    return a;
}

}  // namespace cvrig
