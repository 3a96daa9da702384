#include "rig/expectations/read_value.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rig/expectations/baseline_limit.hpp"
#include "rig/expectations/expression.hpp"
#include "rig/expectations/fields.hpp"
#include "rig/expectations/limit.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

std::optional<value> baseline_limit(limit read, const yaml_node& node, const key_spec& key,
                                    complaint_list& wrong) {
    if (key.for_each_event) {
        wrong.add(node.where,
                  fmt::format("{} is set against every single event, for which a baseline has no "
                              "readings; give it a limit of its own, such as '{}'.",
                              quoted(key.name), example_limit(key.unit)));
    } else if (key.only_upper && read.of_baseline->limits_below) {
        wrong.add(node.where,
                  fmt::format("Of a baseline, {} takes 'at most ... above baseline', and here is "
                              "{}.",
                              quoted(key.name), quoted(node.text)));
    } else {
        return value{std::move(read)};
    }
    return std::nullopt;
}

std::optional<value> read_limit(const yaml_node& node, const key_spec& key, complaint_list& wrong) {
    if (node.what != yaml_node::kind::text) {
        wrong.add(node.where, fmt::format("Here is {}, but {}.", in_words(node.what),
                                          what_is_wanted({key.unit, key.name,
                                                          std::string{example_limit(key.unit)}})));
        return std::nullopt;
    }
    const auto by_baseline = parse_baseline_limit(node.text, key.unit, key.name);
    auto read = by_baseline ? *by_baseline : parse_limit(node.text, key.unit, key.name);
    if (!read) {
        wrong.add(node.where, read.error());
        return std::nullopt;
    }
    if (read->of_baseline) return baseline_limit(std::move(*read), node, key, wrong);
    if (key.only_upper && (!read->upper || read->lower.value_or(0.0) > 0.0)) {
        wrong.add(node.where, fmt::format("{} takes 'none' or 'at most ...', and here is {}.",
                                          quoted(key.name), quoted(node.text)));
        return std::nullopt;
    }
    return value{std::move(*read)};
}

std::optional<value> read_word(const yaml_node& node, const key_spec& key, complaint_list& wrong) {
    auto text = text_of(node, key.name, wrong);
    if (text.empty()) return std::nullopt;
    if (std::find(key.words.begin(), key.words.end(), text) != key.words.end()) {
        return value{word{std::move(text)}};
    }
    wrong.add(node.where, not_one_of(text, "an answer to " + quoted(key.name), key.words));
    return std::nullopt;
}

std::optional<value> read_measure(const yaml_node& node, const key_spec& key,
                                  complaint_list& wrong) {
    if (node.what != yaml_node::kind::text) {
        wrong.add(node.where, fmt::format("Here is {}, but {}.", in_words(node.what),
                                          what_is_wanted({key.unit, key.name, {}})));
        return std::nullopt;
    }
    const auto v = parse_quantity(node.text, {key.unit, key.name, {}});
    if (!v) {
        wrong.add(node.where, v.error());
    } else if (*v < 0.0 && (key.unit == dimension::seconds || key.unit == dimension::count)) {
        wrong.add(node.where, fmt::format("{} is {} below 0, which cannot be.", quoted(node.text),
                                          in_words(key.unit)));
    } else if (key.most && *v > *key.most) {
        wrong.add(node.where,
                  fmt::format("{} is more than {}, the most that {} takes.", quoted(node.text),
                              show(*key.most, key.unit), quoted(key.name)));
    } else {
        return value{measure{*v, key.unit}};
    }
    return std::nullopt;
}

std::optional<value> read_setting_name(const yaml_node& node, const key_spec& key,
                                       const module_expectations& m, complaint_list& wrong) {
    auto text = text_of(node, key.name, wrong);
    if (text.empty()) return std::nullopt;
    std::vector<std::string> names;
    for (const auto& s : m.settings) names.push_back(s.name);
    if (std::find(names.begin(), names.end(), text) != names.end())
        return value{setting_name{std::move(text)}};
    wrong.add(node.where, not_one_of(text, "a declared setting", names));
    return std::nullopt;
}

std::optional<value> read_pattern(const yaml_node& node, const key_spec& key,
                                  complaint_list& wrong) {
    const auto text = text_of(node, key.name, wrong);
    if (text.empty()) return std::nullopt;
    const auto e = expression::parse(text);
    if (e) return value{text_pattern{text}};
    wrong.add(node.where,
              fmt::format("{} is no regular expression: {}.", cvrig::quoted(text), e.error()));
    return std::nullopt;
}

}  // namespace

std::optional<value> read_value(const yaml_node& node, const key_spec& key,
                                const module_expectations& m, complaint_list& wrong) {
    switch (key.kind) {
        case key_spec::form::limit:
            return read_limit(node, key, wrong);
        case key_spec::form::word:
            return read_word(node, key, wrong);
        case key_spec::form::measure:
            return read_measure(node, key, wrong);
        case key_spec::form::stair:
            return read_stair(node, key, m, wrong);
        case key_spec::form::steps:
            return read_steps(node, key, m, wrong);
        case key_spec::form::regions:
            return read_regions(node, key, wrong);
        case key_spec::form::pattern:
            return read_pattern(node, key, wrong);
        case key_spec::form::setting:
            return read_setting_name(node, key, m, wrong);
    }
    return std::nullopt;
}

}  // namespace cvrig
