#include "rig/expectations/fields.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rig/expectations/nearest.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

fields::fields(const yaml_node& node, std::string what, std::vector<std::string> known,
               complaint_list& wrong)
    : node_{node}, what_{std::move(what)}, known_{std::move(known)}, wrong_{wrong} {
    if (!usable()) {
        wrong_.add(node.where,
                   capitalised(fmt::format("{} must be a map of keys ({}), and here is {}.", what_,
                                           listed(known_), in_words(node.what))));
        return;
    }
    for (const auto& e : node.entries) {
        if (std::find(known_.begin(), known_.end(), e.key) == known_.end()) refuse_key(e);
    }
}

void fields::refuse_key(const yaml_entry& e) {
    if (wrong_.full()) {
        wrong_.add(e.where, {});
        return;
    }
    wrong_.add(e.where, not_one_of(e.key, "a key of " + what_, known_));
    if (auto meant = nearest(e.key, known_)) misspelt_.insert(std::move(*meant));
}

const yaml_node* fields::optional(std::string_view key) const {
    return node_.find(key);
}

const yaml_node* fields::required(std::string_view key) const {
    const auto* found = node_.find(key);
    if (found == nullptr && usable() && !misspelt_.contains(std::string{key})) {
        wrong_.add(node_.where,
                   capitalised(fmt::format("{} needs the key {}.", what_, quoted(key))));
    }
    return found;
}

std::optional<double> fields::quantity(std::string_view key, dimension unit,
                                       std::string example) const {
    const auto* found = optional(key);
    if (found == nullptr) return std::nullopt;
    return quantity_of(*found, {unit, key, std::move(example)}, wrong_);
}

std::optional<double> fields::required_quantity(std::string_view key, dimension unit,
                                                std::string example) const {
    if (required(key) == nullptr) return std::nullopt;
    return quantity(key, unit, std::move(example));
}

std::string text_of(const yaml_node& node, std::string_view key, complaint_list& wrong) {
    if (node.what == yaml_node::kind::text && !squeezed(node.text).empty()) {
        return squeezed(node.text);
    }
    wrong.add(node.where, fmt::format("{} wants a text, and here is {}.", quoted(key),
                                      node.what == yaml_node::kind::text ? "an empty one"
                                                                         : in_words(node.what)));
    return {};
}

std::vector<placed_text> texts_of(const yaml_node& node, std::string_view key,
                                  complaint_list& wrong) {
    if (node.what == yaml_node::kind::text) {
        auto text = text_of(node, key, wrong);
        if (text.empty()) return {};
        return {{std::move(text), node.where}};
    }
    if (node.what != yaml_node::kind::list || node.items.empty()) {
        wrong.add(node.where,
                  fmt::format(
                      "{} wants a list of one or more texts, and here is {}.", quoted(key),
                      node.what == yaml_node::kind::list ? "an empty list" : in_words(node.what)));
        return {};
    }
    std::vector<placed_text> out;
    std::set<std::string> seen;
    for (const auto& item : node.items) {
        auto text = text_of(item, key, wrong);
        if (text.empty()) continue;
        if (seen.insert(text).second) {
            out.push_back({std::move(text), item.where});
        } else {
            wrong.add(item.where, fmt::format("{} stands twice in {}; keep one of the two.",
                                              quoted(text), quoted(key)));
        }
    }
    return out;
}

std::optional<double> quantity_of(const yaml_node& node, const wanted& want,
                                  complaint_list& wrong) {
    if (node.what != yaml_node::kind::text) {
        wrong.add(node.where,
                  fmt::format("Here is {}, but {}.", in_words(node.what), what_is_wanted(want)));
        return std::nullopt;
    }
    const auto read = parse_quantity(node.text, want);
    if (read) return *read;
    wrong.add(node.where, read.error());
    return std::nullopt;
}

std::optional<range> range_of(const yaml_node& node, std::string_view key, dimension unit,
                              complaint_list& wrong) {
    const auto text = text_of(node, key, wrong);
    if (text.empty()) return std::nullopt;
    const auto sides = split_pair(text, " to ");
    if (!sides) {
        wrong.add(node.where,
                  fmt::format("{} is not a range for {}; write for example '0 {} to 5 "
                              "{}'.",
                              quoted(text), quoted(key), base_unit(unit), base_unit(unit)));
        return std::nullopt;
    }
    const auto low = parse_quantity(sides->first, {unit, key, {}});
    const auto high = parse_quantity(sides->second, {unit, key, {}});
    if (!low) wrong.add(node.where, low.error());
    if (!high) wrong.add(node.where, high.error());
    if (!low || !high) return std::nullopt;
    if (*low < *high) return range{*low, *high};
    wrong.add(node.where, fmt::format("{} is no range: its first value must be below its second.",
                                      quoted(text)));
    return std::nullopt;
}

bool is_name(const placed_text& name, std::string_view what, complaint_list& wrong) {
    constexpr std::size_t longest = 60;
    if (name.text.size() <= longest && name.text.find_first_of("=/\\{}") == std::string::npos) {
        return true;
    }
    wrong.add(name.where,
              fmt::format("{} cannot be the name of {}; use up to {} characters without "
                          "= / \\ {{ }}.",
                          quoted(name.text), what, longest));
    return false;
}

}  // namespace cvrig
