#include "rig/report/groups.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

namespace cvrig::report {

namespace {

std::string_view place_of(const finding& f) {
    if (f.measured) return f.measured->at;
    if (f.answered) return f.answered->at;
    return {};
}

check_group& group_named(std::vector<check_group>& all, const check_result& result) {
    const auto found = std::find_if(all.begin(), all.end(),
                                    [&](const auto& g) { return g.check == result.check; });
    if (found != all.end()) return *found;
    all.push_back({result.check, result.reads, {}, {}});
    return all.back();
}

demand_group& demand_named(std::vector<demand_group>& all, const std::string& name,
                           const std::string& at) {
    const auto found = std::find_if(all.begin(), all.end(),
                                    [&](const auto& g) { return g.name == name && g.at == at; });
    if (found != all.end()) return *found;
    all.push_back({name, at, {}});
    return all.back();
}

/// Names that occur more than once in one choice: their places must be told apart.
std::set<std::string> repeated_names(const check_group& group) {
    std::set<std::string> repeated;
    for (const auto* result : group.results) {
        std::set<std::string> seen;
        for (const auto& f : result->findings) {
            if (!seen.insert(f.name).second) repeated.insert(f.name);
        }
    }
    return repeated;
}

void arrange_demands(check_group& group) {
    const auto repeated = repeated_names(group);
    for (const auto* result : group.results) {
        for (const auto& f : result->findings) {
            const auto at = repeated.contains(f.name) ? std::string{place_of(f)} : std::string{};
            demand_named(group.demands, f.name, at).rows.push_back({&f, result});
        }
    }
    // A place that only one choice has would else land behind the demands that follow it.
    std::vector<std::string> order;
    for (const auto& d : group.demands) {
        if (std::find(order.begin(), order.end(), d.name) == order.end()) order.push_back(d.name);
    }
    std::stable_sort(group.demands.begin(), group.demands.end(), [&](const auto& a, const auto& b) {
        return std::find(order.begin(), order.end(), a.name) <
               std::find(order.begin(), order.end(), b.name);
    });
}

/// How often each value of each setting occurs, in the order in which they come.
struct value_counts {
    std::vector<std::pair<std::string, std::size_t>> of_value;

    void add(const std::string& value) {
        const auto known = std::find_if(of_value.begin(), of_value.end(),
                                        [&](const auto& v) { return v.first == value; });
        if (known == of_value.end())
            of_value.emplace_back(value, 1);
        else
            ++known->second;
    }
    [[nodiscard]] const std::string& most() const {
        return std::max_element(of_value.begin(), of_value.end(),
                                [](const auto& a, const auto& b) { return a.second < b.second; })
            ->first;
    }
    /// Shannon's entropy: how much the setting tells of which result is meant.
    [[nodiscard]] double told() const {
        double all = 0.0, sum = 0.0;
        for (const auto& v : of_value) all += static_cast<double>(v.second);
        for (const auto& v : of_value) {
            const double share = static_cast<double>(v.second) / all;
            sum -= share * std::log2(share);
        }
        return sum;
    }
};

/// "out", or "down" where two knobs can be down, says little without its setting's name.
bool is_terse(const std::string& name, const std::map<std::string, value_counts>& all) {
    for (const auto& [value, count] : all.at(name).of_value) {
        if (value.size() < 3) return true;
        for (const auto& [other, counts] : all) {
            if (other == name) continue;
            for (const auto& v : counts.of_value)
                if (v.first == value) return true;
        }
    }
    return false;
}

void sort_settings(run_layout& layout, const run_result& run) {
    std::map<std::string, value_counts> values;
    for (const auto& result : run.checks)
        for (const auto& [name, value] : result.choice) values[name].add(value);
    double most_told = -1.0;
    for (const auto& [name, all] : values) {
        if (all.of_value.size() == 1) {
            layout.fixed[name] = all.most();
            continue;
        }
        layout.varied.push_back(name);
        layout.usual[name] = all.most();
        if (is_terse(name, values)) layout.terse.push_back(name);
        if (all.told() > most_told) {
            most_told = all.told();
            layout.leading = name;
        }
    }
}

}  // namespace

verdict check_group::outcome() const noexcept {
    verdict worst = verdict::pass;
    for (const auto* result : results) worst = worse(worst, result->outcome());
    return worst;
}

setting_choice run_layout::varying_part(const setting_choice& whole) const {
    setting_choice part;
    for (const auto& name : varied) {
        if (const auto found = whole.find(name); found != whole.end()) part.insert(*found);
    }
    return part;
}

std::string run_layout::label(const setting_choice& whole) const {
    const auto part = varying_part(whole);
    const auto lead = part.find(leading);
    std::string text = lead == part.end() ? std::string{} : lead->second;
    for (const auto& [name, value] : part) {
        if (name == leading || value == usual.at(name)) continue;
        if (!text.empty()) text += ", ";
        const bool needs_name = std::find(terse.begin(), terse.end(), name) != terse.end();
        text += needs_name ? name + " " + value : value;
    }
    return text.empty() ? "as found" : text;
}

std::optional<verdict> run_layout::outcome_of(const check_group& group,
                                              const setting_choice& choice) const {
    std::optional<verdict> worst;
    for (const auto* result : group.results) {
        if (varying_part(result->choice) != choice) continue;
        worst = worst ? worse(*worst, result->outcome()) : result->outcome();
    }
    return worst;
}

run_layout laid_out(const run_result& run) {
    run_layout layout;
    sort_settings(layout, run);
    for (const auto& result : run.checks) {
        group_named(layout.checks, result).results.push_back(&result);
        const auto part = layout.varying_part(result.choice);
        if (std::find(layout.choices.begin(), layout.choices.end(), part) == layout.choices.end()) {
            layout.choices.push_back(part);
        }
    }
    for (auto& group : layout.checks) arrange_demands(group);
    return layout;
}

std::string title_of(const demand_group& group) {
    return group.at.empty() ? group.name : group.name + ", " + group.at;
}

}  // namespace cvrig::report
