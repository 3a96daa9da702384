#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rig/expectations/expression.hpp"
#include "rig/expectations/fields.hpp"
#include "rig/expectations/module_sections.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

std::optional<std::string> read_expression(const fields& f, std::string_view key,
                                           complaint_list& wrong) {
    const auto* node = f.optional(key);
    if (node == nullptr || text_of(*node, key, wrong).empty()) return std::nullopt;
    const auto e = expression::parse(node->text);
    if (e) return node->text;
    wrong.add(node->where, fmt::format("{} is no regular expression: {}.",
                                       cvrig::quoted(node->text), e.error()));
    return std::nullopt;
}

std::optional<dialogue_line> read_dialogue(const fields& section, std::string_view key,
                                           complaint_list& wrong) {
    const auto* node = section.optional(key);
    if (node == nullptr) return std::nullopt;
    const fields f{*node, cvrig::quoted(key), {"send", "expect"}, wrong};
    if (!f.usable()) return std::nullopt;
    dialogue_line line{.send = {}, .expect = {}, .where = node->where};
    if (const auto* send = f.required("send")) line.send = console_line(*send, "send", wrong);
    if (f.required("expect") != nullptr) line.expect = read_expression(f, "expect", wrong);
    return line;
}

/// Without a group in it, nobody could tell which part of the reply is the number.
void require_group(const std::optional<dialogue_line>& line, std::string_view key,
                   complaint_list& wrong) {
    if (!line || !line->expect) return;
    const auto e = expression::parse(*line->expect);
    if (e && e->groups() == 0)
        wrong.add(line->where, fmt::format("'expect' of '{}' needs a group, as in \"SN ([0-9]+)\": "
                                           "what it captures is taken.",
                                           key));
}

void read_time_limit(const fields& f, console_rules& rules, complaint_list& wrong) {
    const double s =
        f.quantity("time limit", dimension::seconds, "1 s").value_or(rules.time_limit.value());
    if (s >= 0.01 && s <= 60.0) {
        rules.time_limit = seconds{s};
    } else {
        wrong.add(f.optional("time limit")->where,
                  fmt::format("'time limit' must be from 10 ms to 60 s, and here is {}.",
                              show(s, dimension::seconds)));
    }
}

void read_retries(const fields& f, console_rules& rules, complaint_list& wrong) {
    const double n = f.quantity("retries", dimension::count, "2").value_or(rules.retries);
    if (n >= 0.0 && n <= 10.0 && n == std::floor(n)) {
        rules.retries = static_cast<int>(n);
    } else {
        wrong.add(f.optional("retries")->where,
                  fmt::format("'retries' must be a whole number from 0 to 10, and here is {}.",
                              show(n, dimension::count)));
    }
}

void read_unasked(const fields& f, console_rules& rules, complaint_list& wrong) {
    constexpr std::string_view key = "unasked lines per second";
    const double n =
        f.quantity(key, dimension::count, "1000").value_or(rules.unasked_lines_per_second);
    if (n >= 1.0 && n <= 1e6) {
        rules.unasked_lines_per_second = n;
    } else {
        wrong.add(f.optional(key)->where,
                  fmt::format("'{}' must be from 1 to 1000000, and here is {}.", key,
                              show(n, dimension::count)));
    }
}

}  // namespace

std::string console_line(const yaml_node& node, std::string_view key, complaint_list& wrong) {
    constexpr std::size_t longest = 500;
    auto line = text_of(node, key, wrong);
    if (line.size() <= longest) return line;
    wrong.add(node.where,
              fmt::format("{} is longer than {} characters.", cvrig::quoted(key), longest));
    return {};
}

void read_console(const yaml_node& root, module_expectations& m, complaint_list& wrong) {
    const auto* node = root.find("console");
    if (node == nullptr) return;
    const fields f{*node,
                   "'console'",
                   {"identity", "serial number", "no error", "load", "memory", "boot banner",
                    "time limit", "retries", "unasked lines per second"},
                   wrong};
    if (!f.usable()) return;
    console_rules rules;
    rules.identity = read_dialogue(f, "identity", wrong);
    rules.serial_number = read_dialogue(f, "serial number", wrong);
    require_group(rules.serial_number, "serial number", wrong);
    rules.no_error = read_dialogue(f, "no error", wrong);
    rules.load = read_dialogue(f, "load", wrong);
    rules.memory = read_dialogue(f, "memory", wrong);
    rules.boot_banner = read_expression(f, "boot banner", wrong);
    read_time_limit(f, rules, wrong);
    read_retries(f, rules, wrong);
    read_unasked(f, rules, wrong);
    m.console = std::move(rules);
}

void read_routes(const yaml_node& root, module_expectations& m, complaint_list& wrong) {
    const auto* node = root.find("outputs one by one");
    if (node == nullptr) return;
    auto keys = m.listen;
    if (std::ranges::find(keys, "all") != keys.end())
        wrong.add(
            m.listen_where,
            "A jack with the name 'all' cannot be silenced one by one: 'all' stands for every "
            "jack there; give it another name.");
    keys.emplace_back("all");
    const fields f{*node, "'outputs one by one'", keys, wrong};
    if (!f.usable()) return;
    output_route route;
    route.where = node->where;
    for (const auto& jack : m.listen)
        if (const auto* line = f.required(jack))
            route.only[jack] = console_line(*line, jack, wrong);
    if (const auto* line = f.required("all")) route.all = console_line(*line, "all", wrong);
    m.routes = std::move(route);
}

}  // namespace cvrig
