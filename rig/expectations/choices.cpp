#include "rig/expectations/choices.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rig/expectations/fields.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

constexpr std::size_t most_choices = 1000;

struct picked_setting {
    std::string name;
    std::vector<std::string> values;
};

std::vector<std::string> names_of(const std::vector<setting>& settings) {
    std::vector<std::string> names;
    names.reserve(settings.size());
    for (const auto& s : settings) names.push_back(s.name);
    return names;
}

picked_setting pick(const yaml_entry& entry, const setting& declared, complaint_list& wrong) {
    picked_setting picked{declared.name, {}};
    for (const auto& v : texts_of(entry.value, entry.key, wrong)) {
        const auto& known = declared.values;
        if (std::find(known.begin(), known.end(), v.text) != known.end()) {
            picked.values.push_back(v.text);
        } else if (!known.empty()) {
            wrong.add(v.where,
                      not_one_of(v.text, "a value of setting " + quoted(entry.key), known));
        }
    }
    return picked;
}

/// What `in` names, in its own order.
std::vector<picked_setting> picked_in(const yaml_node& in, const module_expectations& m,
                                      complaint_list& wrong) {
    std::vector<picked_setting> picked;
    if (in.what != yaml_node::kind::map) {
        wrong.add(in.where, fmt::format("'in' must map settings to values, such as 'in: {{mode: "
                                        "[tied, wide]}}', and here is {}.",
                                        in_words(in.what)));
        return picked;
    }
    for (const auto& entry : in.entries) {
        const auto s = std::find_if(m.settings.begin(), m.settings.end(),
                                    [&](const setting& x) { return x.name == entry.key; });
        if (s != m.settings.end()) {
            picked.push_back(pick(entry, *s, wrong));
        } else if (m.settings.empty()) {
            wrong.add(entry.where,
                      fmt::format("{} is not declared; add it to 'settings'.", quoted(entry.key)));
        } else {
            wrong.add(entry.where, not_one_of(entry.key, "a setting", names_of(m.settings)));
        }
    }
    return picked;
}

std::vector<picked_setting> all_settings(const module_expectations& m) {
    std::vector<picked_setting> all;
    for (const auto& s : m.settings) all.push_back({s.name, s.values});
    return all;
}

void add_unnamed(std::vector<picked_setting>& picked, const module_expectations& m) {
    for (const auto& s : m.settings) {
        const bool named = std::any_of(picked.begin(), picked.end(),
                                       [&](const picked_setting& p) { return p.name == s.name; });
        if (!named && !s.values.empty()) picked.push_back({s.name, {s.values.front()}});
    }
}

std::size_t combinations(const std::vector<picked_setting>& picked) {
    std::size_t n = 1;
    for (const auto& p : picked) {
        if (!p.values.empty()) n *= std::min(p.values.size(), most_choices + 1);
        if (n > most_choices) return n;
    }
    return n;
}

std::vector<setting_choice> product(const std::vector<picked_setting>& picked) {
    std::vector<setting_choice> all{{}};
    for (const auto& p : picked) {
        if (p.values.empty()) continue;
        std::vector<setting_choice> longer;
        for (const auto& choice : all) {
            for (const auto& v : p.values) {
                longer.push_back(choice);
                longer.back()[p.name] = v;
            }
        }
        all = std::move(longer);
    }
    return all;
}

}  // namespace

std::vector<setting_choice> choices_of(const yaml_node* in, const module_expectations& m,
                                       const place& check, complaint_list& wrong) {
    auto picked = in == nullptr ? all_settings(m) : picked_in(*in, m, wrong);
    add_unnamed(picked, m);
    if (combinations(picked) <= most_choices) return product(picked);
    wrong.add(in == nullptr ? check : in->where,
              fmt::format("These settings have more than {} combinations; name fewer values in "
                          "'in'.",
                          most_choices));
    return {};
}

}  // namespace cvrig
