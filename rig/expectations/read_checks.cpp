#include "rig/expectations/read_checks.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rig/expectations/choices.hpp"
#include "rig/expectations/compared.hpp"
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

void require_keys(const yaml_entry& entry, const check_spec& spec, complaint_list& wrong) {
    for (const auto& key : spec.keys) {
        if (!key.required || entry.value.find(key.name) != nullptr) continue;
        wrong.add(entry.where, fmt::format("Check {} needs the key {} ({}).", quoted(entry.key),
                                           quoted(key.name), key.meaning));
    }
}

void require_jacks(const yaml_entry& entry, const check_spec& spec, const module_expectations& m,
                   complaint_list& wrong) {
    for (const auto& name : spec.moves) {
        const auto* jack = m.find_jack(name);
        if (jack != nullptr && !jack->is_gate) continue;
        wrong.add(
            entry.where,
            fmt::format("Check {} moves the CV jack {}; declare it under 'drive' with a range, "
                        "or leave the check out.",
                        quoted(entry.key), quoted(name)));
    }
}

/// What is asked of a check that compares the values of one setting.
void require_comparison(const yaml_entry& entry, const check_spec& spec,
                        const check_expectation& check, complaint_list& wrong) {
    if (spec.compares.empty() || check.in.empty()) return;
    const auto varied = varied_settings(check);
    const auto* in = entry.value.find("in");
    const auto& where = in == nullptr ? entry.where : in->where;
    if (const auto* named = check.find<setting_name>(spec.compares, check.in.front())) {
        if (std::find(varied.begin(), varied.end(), named->text) == varied.end())
            wrong.add(check.keys.at(spec.compares).where,
                      fmt::format("Check {} compares the values of {}, of which it plays only one; "
                                  "name two or more in 'in', the one to compare with first.",
                                  quoted(entry.key), quoted(named->text)));
    } else if (varied.empty()) {
        wrong.add(where, fmt::format("Check {} compares the values of a setting, and here none has "
                                     "more than one; name two or more in 'in', the one to compare "
                                     "with first.",
                                     quoted(entry.key)));
    } else if (varied.size() > 1 && entry.value.find(spec.compares) == nullptr) {
        wrong.add(where, fmt::format("Check {} compares the values of one setting, and here {} "
                                     "vary; say which one with the key {}.",
                                     quoted(entry.key), listed(varied), quoted(spec.compares)));
    }
}

/// The choices of a check that hears nothing are one, of no settings.
std::vector<setting_choice> choices_for(const yaml_entry& entry, const check_spec& spec,
                                        const module_expectations& m, complaint_list& wrong) {
    const auto* in = entry.value.find("in");
    if (spec.hears) return choices_of(in, m, entry.where, wrong);
    if (in != nullptr)
        wrong.add(in->where, fmt::format("Check {} hears nothing, so no setting changes what it "
                                         "finds; leave 'in' out.",
                                         quoted(entry.key)));
    return {setting_choice{}};
}

std::optional<keyed_value> read_key(const yaml_entry& entry, const key_spec& key,
                                    const check_spec& spec, const check_expectation& check,
                                    const module_expectations& m, complaint_list& wrong) {
    if (spec.hears || !is_by_setting(entry.value, key))
        return read_keyed(entry, key, check.in, m, wrong);
    wrong.add(entry.value.where,
              fmt::format("Check {} hears nothing, so {} is the same with every setting; give one "
                          "value.",
                          quoted(check.name), quoted(entry.key)));
    return std::nullopt;
}

void read_check(const yaml_entry& entry, const check_spec& spec, module_expectations& m,
                complaint_list& wrong) {
    const fields f{entry.value, "check " + quoted(entry.key), keys_of(spec), wrong};
    if (!f.usable()) return;
    check_expectation check{entry.key, choices_for(entry, spec, m, wrong), {}, entry.where};
    require_keys(entry, spec, wrong);
    require_jacks(entry, spec, m, wrong);
    require_demand(entry, spec, wrong);
    for (const auto& e : entry.value.entries) {
        const auto key = std::find_if(spec.keys.begin(), spec.keys.end(),
                                      [&](const key_spec& k) { return k.name == e.key; });
        if (key == spec.keys.end()) continue;
        if (auto v = read_key(e, *key, spec, check, m, wrong)) {
            check.keys.emplace(e.key, std::move(*v));
        }
    }
    require_comparison(entry, spec, check, wrong);
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
