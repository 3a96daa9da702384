#include "rig/expectations/read_keyed.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "rig/expectations/read_value.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

constexpr std::string_view otherwise = "otherwise";

bool has_value(const setting& s, const std::string& v) {
    return std::find(s.values.begin(), s.values.end(), v) != s.values.end();
}

std::ptrdiff_t matches(const setting& s, const yaml_node& map) {
    return std::count_if(map.entries.begin(), map.entries.end(),
                         [&](const yaml_entry& e) { return has_value(s, e.key); });
}

/// The values of a setting that the choices play, in the order of its declaration.
std::vector<std::string> played_values(const setting& s,
                                       const std::vector<setting_choice>& choices) {
    std::set<std::string> played;
    for (const auto& c : choices) {
        if (const auto found = c.find(s.name); found != c.end()) played.insert(found->second);
    }
    std::vector<std::string> ordered;
    for (const auto& v : s.values) {
        if (played.contains(v)) ordered.push_back(v);
    }
    return ordered;
}

/// One map that gives a key's value by setting.
class keyed_reader {
public:
    keyed_reader(const yaml_entry& entry, const key_spec& key,
                 const std::vector<setting_choice>& choices, const module_expectations& m,
                 complaint_list& wrong)
        : entry_{entry}, key_{key}, choices_{choices}, m_{m}, wrong_{wrong} {}

    std::optional<keyed_value> read() const {
        const auto* by = setting_meant();
        keyed_value out{by == nullptr ? "" : by->name, {}, {}, entry_.where};
        const auto allowed = by == nullptr ? all_values() : by->values;
        const auto played =
            by == nullptr ? std::vector<std::string>{} : played_values(*by, choices_);
        for (const auto& e : entry_.value.entries) {
            if (e.key == otherwise) {
                out.otherwise = read_value(e.value, key_, m_, wrong_);
            } else if (by == nullptr || !has_value(*by, e.key)) {
                refuse_value(e, by, allowed);
            } else {
                require_played(e, by->name, played);
                if (auto v = read_value(e.value, key_, m_, wrong_)) {
                    out.by_value.emplace(e.key, std::move(*v));
                }
            }
        }
        if (by != nullptr) require_all(played);
        return out;
    }

private:
    /// The setting most of whose values stand in the map; null if there is none at all.
    const setting* setting_meant() const {
        const setting* best = nullptr;
        for (const auto& s : m_.settings) {
            const auto n = matches(s, entry_.value);
            if (n > 0 && (best == nullptr || n > matches(*best, entry_.value))) best = &s;
        }
        if (best != nullptr) refuse_double_meaning(*best);
        return best;
    }

    void refuse_double_meaning(const setting& best) const {
        for (const auto& s : m_.settings) {
            if (&s == &best || matches(s, entry_.value) != matches(best, entry_.value)) continue;
            wrong_.add(entry_.value.where,
                       fmt::format("The values here belong to setting {} and to setting {}; rename "
                                   "the values of one of them.",
                                   quoted(best.name), quoted(s.name)));
        }
    }

    std::vector<std::string> all_values() const {
        std::vector<std::string> all;
        for (const auto& s : m_.settings) all.insert(all.end(), s.values.begin(), s.values.end());
        return all;
    }

    void refuse_value(const yaml_entry& e, const setting* by,
                      std::vector<std::string> allowed) const {
        // A setting without values has its own complaint, and may be the one that is meant here.
        const bool unclear = std::any_of(m_.settings.begin(), m_.settings.end(),
                                         [](const setting& s) { return s.values.empty(); });
        if (unclear) return;
        if (allowed.empty()) {
            wrong_.add(e.where, fmt::format("{} wants one value here: no setting is declared that "
                                            "has a value {}.",
                                            quoted(key_.name), quoted(e.key)));
            return;
        }
        allowed.emplace_back(otherwise);
        const auto what = by == nullptr ? "a value of any setting"
                                        : fmt::format("a value of setting {}", quoted(by->name));
        wrong_.add(e.where, not_one_of(e.key, what, allowed));
    }

    void require_played(const yaml_entry& e, const std::string& name,
                        const std::vector<std::string>& played) const {
        if (choices_.empty() || std::find(played.begin(), played.end(), e.key) != played.end()) {
            return;
        }
        wrong_.add(e.where, fmt::format("{} is never played here: this check plays {} with {}; add "
                                        "it to 'in' or remove it.",
                                        quoted(e.key), quoted(name), listed(played)));
    }

    void require_all(const std::vector<std::string>& played) const {
        if (entry_.value.find(otherwise) != nullptr) return;
        std::vector<std::string> missing;
        for (const auto& v : played) {
            if (entry_.value.find(v) == nullptr) missing.push_back(v);
        }
        if (missing.empty()) return;
        wrong_.add(entry_.where,
                   fmt::format("{} says nothing for {}; add {} or 'otherwise'.", quoted(key_.name),
                               listed(missing), missing.size() == 1 ? "it" : "them"));
    }

    const yaml_entry& entry_;
    const key_spec& key_;
    const std::vector<setting_choice>& choices_;
    const module_expectations& m_;
    complaint_list& wrong_;
};

}  // namespace

bool is_by_setting(const yaml_node& node, const key_spec& key) {
    if (node.what != yaml_node::kind::map || node.entries.empty()) return false;
    if (key.kind == key_spec::form::regions || key.kind == key_spec::form::setting) return false;
    return key.kind != key_spec::form::stair || !looks_like_a_stair(node);
}

std::optional<keyed_value> read_keyed(const yaml_entry& entry, const key_spec& key,
                                      const std::vector<setting_choice>& choices,
                                      const module_expectations& m, complaint_list& wrong) {
    if (is_by_setting(entry.value, key)) {
        return keyed_reader{entry, key, choices, m, wrong}.read();
    }
    auto same = read_value(entry.value, key, m, wrong);
    if (!same) return std::nullopt;
    return keyed_value{"", {}, std::move(same), entry.where};
}

}  // namespace cvrig
