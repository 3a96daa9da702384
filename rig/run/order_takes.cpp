#include "rig/run/order_takes.hpp"

#include <algorithm>
#include <cstddef>
#include <iterator>
#include <map>
#include <utility>

#include "rig/run/fewest_changes.hpp"

namespace cvrig {

namespace {

/// Numbers the values of settings in the order in which they are met.
class numbering {
public:
    explicit numbering(std::vector<const setting*> settings)
        : settings_{std::move(settings)}, seen_(settings_.size()) {}

    positions of(const setting_choice& choice) {
        positions p;
        for (std::size_t i = 0; i < settings_.size(); ++i) p.push_back(number(i, choice));
        return p;
    }

private:
    int number(std::size_t i, const setting_choice& choice) {
        constexpr int unknown = -1;
        const auto value = choice.find(settings_[i]->name);
        if (value == choice.end()) return unknown;
        const auto next = static_cast<int>(seen_[i].size());
        return seen_[i].emplace(value->second, next).first->second;
    }

    std::vector<const setting*> settings_;
    std::vector<std::map<std::string, int>> seen_;
};

std::vector<const setting*> console_settings_of(const module_expectations& m,
                                                bool bench_has_console) {
    std::vector<const setting*> out;
    for (const auto& s : m.settings)
        if (s.console && bench_has_console) out.push_back(&s);
    return out;
}

/// The takes that need the same hands.
struct hand_group {
    positions hands;
    std::vector<std::pair<positions, planned_take>> takes;  ///< with what the console sets
};

std::vector<hand_group> grouped(std::vector<planned_take> takes, numbering& hands,
                                numbering& lines) {
    std::vector<hand_group> groups;
    for (auto& take : takes) {
        auto p = hands.of(take.choice);
        auto found = std::ranges::find(groups, p, &hand_group::hands);
        if (found == groups.end()) found = groups.insert(found, {std::move(p), {}});
        auto by_console = lines.of(take.choice);
        found->takes.emplace_back(std::move(by_console), std::move(take));
    }
    return groups;
}

std::vector<positions> points_of(const std::vector<hand_group>& groups) {
    std::vector<positions> points;
    points.reserve(groups.size());
    for (const auto& g : groups) points.push_back(g.hands);
    return points;
}

}  // namespace

std::vector<const setting*> hand_settings(const module_expectations& m, bool bench_has_console) {
    std::vector<const setting*> out;
    for (const auto& s : m.settings)
        if (!s.console || !bench_has_console) out.push_back(&s);
    return out;
}

run_plan order_takes(run_plan plan, const module_expectations& m, bool bench_has_console,
                     const std::optional<setting_choice>& now) {
    numbering hands{hand_settings(m, bench_has_console)};
    numbering lines{console_settings_of(m, bench_has_console)};
    auto groups = grouped(std::move(plan.takes), hands, lines);
    std::optional<positions> start;
    if (now) start = hands.of(*now);
    run_plan ordered;
    ordered.by_facts = std::move(plan.by_facts);
    for (const auto i : fewest_changes(points_of(groups), start)) {
        auto& takes = groups[i].takes;
        std::ranges::stable_sort(takes, {},
                                 [](const auto& t) -> const positions& { return t.first; });
        for (auto& [unused, take] : takes) ordered.takes.push_back(std::move(take));
    }
    return ordered;
}

hand_work hand_work_of(const run_plan& plan, const module_expectations& m, bool bench_has_console) {
    const auto settings = hand_settings(m, bench_has_console);
    if (plan.takes.empty()) return {};
    numbering hands{settings};
    std::vector<positions> in_order;
    for (const auto& take : plan.takes) in_order.push_back(hands.of(take.choice));
    hand_work work;
    const auto& first = plan.takes.front().choice;
    const auto must_be_made = [&](const setting* s) {
        const auto wanted = first.find(s->name);
        return !s->prepared || (wanted != first.end() && wanted->second != *s->prepared);
    };
    work.actions = work.at_least = static_cast<int>(std::ranges::count_if(settings, must_be_made));
    for (std::size_t i = 1; i < in_order.size(); ++i)
        work.actions += changes(in_order[i - 1], in_order[i]);
    std::ranges::sort(in_order);
    in_order.erase(std::unique(in_order.begin(), in_order.end()), in_order.end());
    work.at_least += least_changes(in_order);
    return work;
}

}  // namespace cvrig
