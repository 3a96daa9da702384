#include "rig/expectations/read_checks.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rig/expectations/choices.hpp"
#include "rig/expectations/fields.hpp"
#include "rig/expectations/read_keyed.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

std::vector<std::string> demands_of(const check_spec& spec) {
    std::vector<std::string> names;
    for (const auto& k : spec.keys) {
        if (k.is_demand()) names.push_back(k.name);
    }
    return names;
}

std::vector<std::string> keys_of(const check_spec& spec) {
    std::vector<std::string> names{"in"};
    for (const auto& k : spec.keys) names.push_back(k.name);
    return names;
}

void require_demand(const yaml_entry& entry, const check_spec& spec, complaint_list& wrong) {
    const auto demands = demands_of(spec);
    const bool any = std::any_of(demands.begin(), demands.end(), [&](const std::string& name) {
        return entry.value.find(name) != nullptr;
    });
    if (any || demands.empty()) return;
    wrong.add(entry.where, fmt::format("Check {} demands nothing; give at least one of its limits "
                                       "({}).",
                                       quoted(entry.key), listed(demands)));
}

void read_check(const yaml_entry& entry, const check_spec& spec, module_expectations& m,
                complaint_list& wrong) {
    const fields f{entry.value, "check " + quoted(entry.key), keys_of(spec), wrong};
    if (!f.usable()) return;
    check_expectation check{
        entry.key, choices_of(f.optional("in"), m, entry.where, wrong), {}, entry.where};
    for (const auto& key : spec.keys) {
        if (key.required && entry.value.find(key.name) == nullptr) {
            wrong.add(entry.where, fmt::format("Check {} needs the key {} ({}).", quoted(entry.key),
                                               quoted(key.name), key.meaning));
        }
    }
    require_demand(entry, spec, wrong);
    for (const auto& e : entry.value.entries) {
        const auto key = std::find_if(spec.keys.begin(), spec.keys.end(),
                                      [&](const key_spec& k) { return k.name == e.key; });
        if (key == spec.keys.end()) continue;
        if (auto v = read_keyed(e, *key, check.in, m, wrong)) {
            check.keys.emplace(e.key, std::move(*v));
        }
    }
    m.checks.push_back(std::move(check));
}

}  // namespace

void read_checks(const yaml_node& root, std::span<const check_spec> known, module_expectations& m,
                 complaint_list& wrong) {
    const auto* checks = root.find("checks");
    if (checks == nullptr) return;
    if (checks->what != yaml_node::kind::map || checks->entries.empty()) {
        wrong.add(checks->where, "'checks' must name at least one check with its limits.");
        return;
    }
    std::vector<std::string> names;
    for (const auto& k : known) names.push_back(k.name);
    for (const auto& entry : checks->entries) {
        const auto spec = std::find_if(known.begin(), known.end(),
                                       [&](const check_spec& k) { return k.name == entry.key; });
        if (spec != known.end()) {
            read_check(entry, *spec, m, wrong);
        } else {
            wrong.add(entry.where, not_one_of(entry.key, "a check", names));
        }
    }
}

}  // namespace cvrig
