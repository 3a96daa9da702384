#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <string_view>

#include "rig/expectations/calibration_rules.hpp"
#include "rig/expectations/expression.hpp"
#include "rig/expectations/fields.hpp"
#include "rig/expectations/limit.hpp"
#include "rig/expectations/module_sections.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

using holes = std::span<const std::string_view>;

constexpr std::array<std::string_view, 2> holes_of_a_point{"{number}", "{volts}"};
constexpr std::array<std::string_view, 2> holes_of_constants{"{offset}", "{gain}"};

/// A text with a number in each of its holes.
std::string with_numbers(std::string_view text, holes known) {
    std::string out;
    while (!text.empty()) {
        const auto hole = std::ranges::find_if(
            known, [&](std::string_view name) { return text.starts_with(name); });
        out += hole == known.end() ? text.front() : '1';
        text.remove_prefix(hole == known.end() ? 1 : hole->size());
    }
    return out;
}

std::string text_with_holes(const yaml_node& node, std::string_view key, holes known,
                            complaint_list& wrong) {
    auto text = console_line(node, key, wrong);
    if (with_numbers(text, known).find_first_of("{}") == std::string::npos) return text;
    std::vector<std::string> names{known.begin(), known.end()};
    wrong.add(node.where, fmt::format("{} may contain {} and no other braces, and here is {}.",
                                      quoted(key), listed(names), quoted(text)));
    return {};
}

std::optional<std::string> optional_text(const fields& f, std::string_view key, holes known,
                                         complaint_list& wrong) {
    const auto* node = f.optional(key);
    if (node == nullptr) return std::nullopt;
    auto text = text_with_holes(*node, key, known, wrong);
    if (text.empty()) return std::nullopt;
    return text;
}

/// A reply may have holes too; with a number in each it must be a regular expression, of at least
/// so many groups.
std::optional<std::string> expected_reply(const yaml_node& node, int groups,
                                          complaint_list& wrong) {
    const auto text = text_of(node, "expect", wrong);
    if (text.empty()) return std::nullopt;
    const auto tried = expression::parse(with_numbers(text, holes_of_a_point));
    if (!tried) {
        wrong.add(node.where,
                  fmt::format("{} is no regular expression: {}.", quoted(text), tried.error()));
        return std::nullopt;
    }
    if (std::ranges::count(text, '(') < groups) {
        wrong.add(node.where,
                  fmt::format("{} must hold {} in parentheses, such as \"([-+0-9.eE]+){}\".",
                              quoted(text), groups == 1 ? "the number" : "offset and gain",
                              groups == 1 ? "" : ",([-+0-9.eE]+)"));
    }
    return text;
}

std::optional<line_pattern> read_pattern(const fields& section, std::string_view key, int groups,
                                         complaint_list& wrong) {
    const auto* node = section.optional(key);
    if (node == nullptr) return std::nullopt;
    const fields f{*node, quoted(key), {"send", "expect"}, wrong};
    if (!f.usable()) return std::nullopt;
    line_pattern line{.send = {}, .expect = {}, .where = node->where};
    if (const auto* send = f.required("send"))
        line.send = text_with_holes(*send, "send", holes_of_a_point, wrong);
    if (const auto* expect = f.required("expect"))
        line.expect = expected_reply(*expect, groups, wrong);
    return line;
}

std::optional<jack_pulse> read_pulse(const fields& act, const module_expectations& m,
                                     complaint_list& wrong) {
    constexpr double longest_s = 60.0;
    const auto* node = act.optional("pulse");
    if (node == nullptr) return std::nullopt;
    const fields f{*node, "'pulse'", {"jack", "to", "for"}, wrong};
    if (!f.usable()) return std::nullopt;
    jack_pulse pulse;
    if (const auto* jack = f.required("jack")) {
        pulse.jack = text_of(*jack, "jack", wrong);
        if (pulse.jack == "pitch")
            wrong.add(jack->where,
                      "A pulse at jack 'pitch' would replace the known voltage there.");
        else if (!pulse.jack.empty() && m.find_jack(pulse.jack) == nullptr)
            wrong.add(jack->where,
                      fmt::format("Jack {} is none that 'drive' names.", quoted(pulse.jack)));
    }
    if (const auto to = f.required_quantity("to", dimension::volts, "5 V")) pulse.to = volts{*to};
    const double s = f.required_quantity("for", dimension::seconds, "50 ms").value_or(0.05);
    pulse.length = seconds{s};
    if (!(s > 0.0 && s <= longest_s))
        wrong.add(node->where, fmt::format("A pulse lasts up to {:g} s, and here is {}.", longest_s,
                                           show(s, dimension::seconds)));
    return pulse;
}

calibration_act read_act(const yaml_node& node, std::string_view key, const module_expectations& m,
                         complaint_list& wrong) {
    const fields f{node, quoted(key), {"console", "then", "pulse", "operator", "shows"}, wrong};
    calibration_act act;
    act.where = node.where;
    if (!f.usable()) return act;
    act.console = optional_text(f, "console", holes_of_a_point, wrong);
    act.then = read_pattern(f, "then", 0, wrong);
    act.pulse = read_pulse(f, m, wrong);
    act.operator_instruction = optional_text(f, "operator", holes_of_a_point, wrong);
    act.shows = optional_text(f, "shows", holes_of_a_point, wrong);
    const bool says_how = node.find("console") || node.find("pulse") || node.find("operator");
    if (!says_how)
        wrong.add(node.where, fmt::format("{} needs at least one way to do it: 'console', 'pulse' "
                                          "or 'operator'.",
                                          quoted(key)));
    if (act.shows && !act.operator_instruction)
        wrong.add(node.where, "'shows' is for the person who does it; give 'operator', too.");
    return act;
}

std::optional<calibration_act> read_optional_act(const fields& section, std::string_view key,
                                                 const module_expectations& m,
                                                 complaint_list& wrong) {
    const auto* node = section.optional(key);
    if (node == nullptr) return std::nullopt;
    return read_act(*node, key, m, wrong);
}

limit read_limit(const fields& section, std::string_view key, const std::string& by_default,
                 complaint_list& wrong) {
    const auto* node = section.optional(key);
    const auto text = node == nullptr ? by_default : text_of(*node, key, wrong);
    const auto read = parse_limit(text, dimension::cents, key);
    if (read) return *read;
    if (!text.empty()) wrong.add(node == nullptr ? section.where() : node->where, read.error());
    return {};
}

/// A list of two voltages or more in the range of jack 'pitch'.
std::vector<volts> read_volts(const yaml_node& node, std::string_view key,
                              const module_expectations& m, complaint_list& wrong) {
    std::vector<volts> all;
    for (const auto& text : texts_of(node, key, wrong)) {
        const auto read = parse_quantity(text.text, {dimension::volts, key, "1 V"});
        if (!read) {
            wrong.add(text.where, read.error());
            continue;
        }
        all.emplace_back(*read);
        const auto* jack = m.find_jack("pitch");
        if (jack != nullptr && (all.back() < jack->low || all.back() > jack->high))
            wrong.add(text.where,
                      fmt::format("{} lies outside the range of jack 'pitch', {} to {}.", text.text,
                                  show(jack->low.value(), dimension::volts),
                                  show(jack->high.value(), dimension::volts)));
    }
    return all;
}

std::optional<table_rules> read_table(const fields& constants, const module_expectations& m,
                                      complaint_list& wrong) {
    const auto* node = constants.optional("table");
    if (node == nullptr) return std::nullopt;
    const fields f{*node, "'table'", {"at", "read", "write"}, wrong};
    if (!f.usable()) return std::nullopt;
    table_rules table;
    table.where = node->where;
    if (const auto* at = f.required("at")) table.at = read_volts(*at, "at", m, wrong);
    if (table.at.size() == 1 || !std::ranges::is_sorted(table.at))
        wrong.add(node->where, "A table has two voltages or more, each above the one before.");
    table.read = read_pattern(f, "read", 1, wrong);
    table.write = optional_text(f, "write", holes_of_a_point, wrong);
    if (table.write && !table.read)
        wrong.add(node->where,
                  "Better corrections are added to those in force: give 'read' beside 'write'.");
    return table;
}

std::optional<constants_rules> read_constants(const fields& section, const module_expectations& m,
                                              complaint_list& wrong) {
    const auto* node = section.optional("constants");
    if (node == nullptr) return std::nullopt;
    const fields f{*node, "'constants'", {"read", "write", "table"}, wrong};
    if (!f.usable()) return std::nullopt;
    constants_rules rules;
    rules.where = node->where;
    rules.read = read_pattern(f, "read", 2, wrong);
    rules.write = optional_text(f, "write", holes_of_constants, wrong);
    if (rules.write && !rules.read)
        wrong.add(node->where,
                  "Better constants follow from those in force: give 'read' beside 'write'.");
    rules.table = read_table(f, m, wrong);
    for (const auto hole : holes_of_constants)
        if (rules.write && rules.write->find(hole) == std::string::npos)
            wrong.add(node->where, fmt::format("'write' must contain {}.", hole));
    return rules;
}

std::vector<constants_trial> read_survivals(const fields& section, const module_expectations& m,
                                            complaint_list& wrong) {
    std::vector<constants_trial> all;
    const auto* node = section.optional("survives");
    if (node == nullptr) return all;
    const fields f{*node, "'survives'", {"power cycle", "settings reset", "re-flash"}, wrong};
    if (!f.usable()) return all;
    for (const auto& entry : node->entries)
        all.push_back({entry.key, read_act(entry.value, entry.key, m, wrong)});
    return all;
}

void read_settle(const fields& f, calibration_rules& rules, complaint_list& wrong) {
    constexpr double longest_s = 60.0;
    const double s =
        f.quantity("settle", dimension::seconds, "0.3 s").value_or(rules.settle.value());
    rules.settle = seconds{s};
    if (!(s >= 0.0 && s <= longest_s))
        wrong.add(f.where(), fmt::format("'settle' must be at most {:g} s, and here is {}.",
                                         longest_s, show(s, dimension::seconds)));
}

}  // namespace

void read_calibration(const yaml_node& root, module_expectations& m, complaint_list& wrong) {
    const auto* node = root.find("calibration");
    if (node == nullptr) return;
    const fields f{*node,
                   "'calibration'",
                   {"error", "kept", "voltages", "settle", "enter", "confirm", "seen", "store",
                    "abandon", "is over", "constants", "survives"},
                   wrong};
    if (!f.usable()) return;
    calibration_rules rules;
    rules.where = node->where;
    static_cast<void>(f.required("error"));
    rules.error = read_limit(f, "error", {}, wrong);
    rules.kept = read_limit(f, "kept", "within 1 cent", wrong);
    if (const auto* voltages = f.required("voltages"))
        rules.voltages = read_volts(*voltages, "voltages", m, wrong);
    if (!rules.voltages.empty() && rules.voltages.size() < 2)
        wrong.add(node->where, "A calibration needs two voltages or more.");
    read_settle(f, rules, wrong);
    rules.enter = read_optional_act(f, "enter", m, wrong);
    if (const auto* confirm = f.required("confirm"))
        rules.confirm = read_act(*confirm, "confirm", m, wrong);
    rules.seen = read_pattern(f, "seen", 1, wrong);
    rules.store = read_optional_act(f, "store", m, wrong);
    rules.abandon = read_optional_act(f, "abandon", m, wrong);
    rules.is_over = read_pattern(f, "is over", 0, wrong);
    rules.constants = read_constants(f, m, wrong);
    rules.survives = read_survivals(f, m, wrong);
    m.calibration = std::move(rules);
}

}  // namespace cvrig
