#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rig/expectations/fields.hpp"
#include "rig/expectations/module_sections.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

/// A text in which "{value}" stands for the value, and no other braces stand.
std::optional<std::string> pattern_of(const fields& f, std::string_view key, bool many_values,
                                      complaint_list& wrong) {
    const auto* node = f.optional(key);
    if (node == nullptr) return std::nullopt;
    auto text = text_of(*node, key, wrong);
    if (text.empty()) return std::nullopt;
    const std::string_view hole = "{value}";
    auto rest = text;
    const auto first = rest.find(hole);
    if (first == std::string::npos && many_values) {
        wrong.add(node->where,
                  fmt::format("{} must contain {{value}} where the value goes, because "
                              "there are several values.",
                              quoted(key)));
    }
    for (auto at = first; at != std::string::npos; at = rest.find(hole)) {
        rest.erase(at, hole.size());
    }
    if (rest.find_first_of("{}") != std::string::npos) {
        wrong.add(node->where, fmt::format("{} may contain {{value}} and no other braces, and here "
                                           "is {}.",
                                           quoted(key), quoted(text)));
    }
    return text;
}

void read_prepared(const fields& f, setting& s, complaint_list& wrong) {
    const auto* node = f.optional("prepared");
    if (node == nullptr) return;
    const auto text = text_of(*node, "prepared", wrong);
    if (std::ranges::find(s.values, text) != s.values.end()) {
        s.prepared = text;
    } else if (!text.empty() && !s.values.empty()) {
        wrong.add(node->where, not_one_of(text, "a value of setting " + quoted(s.name), s.values));
    }
}

setting read_setting(const yaml_entry& entry, complaint_list& wrong) {
    const fields f{entry.value,
                   "setting " + quoted(entry.key),
                   {"values", "console", "confirm", "operator", "prepared"},
                   wrong};
    setting s{.name = entry.key,
              .values = {},
              .console = {},
              .confirm = {},
              .operator_instruction = {},
              .where = entry.where};
    if (const auto* values = f.required("values")) {
        for (const auto& v : texts_of(*values, "values", wrong)) {
            if (v.text == "otherwise") {
                wrong.add(v.where,
                          "'otherwise' cannot be a value: it stands for all values that "
                          "are not listed.");
            } else if (is_name(v, "a value", wrong)) {
                s.values.push_back(v.text);
            }
        }
    }
    s.console = pattern_of(f, "console", s.values.size() > 1, wrong);
    if (const auto* confirm = f.optional("confirm")) {
        s.confirm = console_line(*confirm, "confirm", wrong);
        if (f.optional("console") == nullptr)
            wrong.add(confirm->where,
                      "'confirm' asks what the line in 'console' has set; give that line, too.");
    }
    s.operator_instruction = pattern_of(f, "operator", s.values.size() > 1, wrong);
    read_prepared(f, s, wrong);
    return s;
}

}  // namespace

void read_settings(const yaml_node& root, module_expectations& m, complaint_list& wrong) {
    const auto* settings = root.find("settings");
    if (settings == nullptr) return;
    if (settings->what != yaml_node::kind::map) {
        wrong.add(settings->where,
                  "'settings' must name switches and knobs, such as "
                  "'mode: {values: [tied, struck]}'.");
        return;
    }
    for (const auto& entry : settings->entries) {
        if (is_name({entry.key, entry.where}, "a setting", wrong)) {
            m.settings.push_back(read_setting(entry, wrong));
        }
    }
}

void read_judging(const yaml_node& root, module_expectations& m, complaint_list& wrong) {
    const auto* judging = root.find("judging");
    if (judging == nullptr) return;
    const fields f{*judging, "'judging'", {"coverage factor", "retakes"}, wrong};
    const double k =
        f.quantity("coverage factor", dimension::ratio, "2").value_or(m.coverage_factor);
    if (k >= 1.0 && k <= 5.0) {
        m.coverage_factor = k;
    } else {
        wrong.add(f.optional("coverage factor")->where,
                  fmt::format("'coverage factor' must be from 1 to 5, and here is {}; 2 is usual.",
                              show(k, dimension::ratio)));
    }
    const double n = f.quantity("retakes", dimension::count, "2").value_or(m.retakes);
    if (n >= 0.0 && n <= 10.0 && n == std::floor(n)) {
        m.retakes = static_cast<int>(n);
    } else {
        wrong.add(f.optional("retakes")->where,
                  fmt::format("'retakes' must be a whole number from 0 to 10, and here is {}.",
                              show(n, dimension::count)));
    }
}

}  // namespace cvrig
