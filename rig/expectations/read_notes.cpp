#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "rig/expectations/fields.hpp"
#include "rig/expectations/note_name.hpp"
#include "rig/expectations/read_value.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

constexpr double most_notes = 1000;
constexpr std::array stair_keys{"from", "to", "every", "order"};

/// Where a range of voltages ends: 1 nV is far below any converter step and above rounding.
constexpr volts rounding{1e-9};

std::string in_volts(volts v) {
    return show(v.value(), dimension::volts, 6);
}

/// A pitch voltage, given in volts, as a note or in Hz.
std::optional<volts> pitch_voltage(std::string_view text, std::string_view key, const place& where,
                                   const pitch_law& law, complaint_list& wrong) {
    const auto m = parse_measure(text);
    if (m && m->unit == dimension::hertz && m->in_base_unit > 0.0) {
        const auto above = to_octaves(interval(hertz{m->in_base_unit}, law.reference));
        return law.at + law.per_octave * above.value();
    }
    const auto v = parse_quantity(text, {dimension::volts, key, "0.5 V"});
    if (v) return volts{*v};
    wrong.add(where, v.error());
    return std::nullopt;
}

/// Complains about a voltage that jack "pitch" never reaches.
void require_reach(volts v, const place& where, const module_expectations& m,
                   complaint_list& wrong) {
    const auto* jack = m.find_jack("pitch");
    if (jack == nullptr || !(jack->low < jack->high)) return;
    if (v >= jack->low - rounding && v <= jack->high + rounding) return;
    wrong.add(where, fmt::format("{} is out of reach: jack 'pitch' is driven from {} to {}.",
                                 in_volts(v), in_volts(jack->low), in_volts(jack->high)));
}

/// Complains once for each key if no jack plays notes.
bool has_pitch_jack(const yaml_node& node, const key_spec& key, const module_expectations& m,
                    complaint_list& wrong) {
    if (m.find_jack("pitch") != nullptr || m.drive.empty()) return true;
    std::vector<std::string> names;
    for (const auto& j : m.drive) names.push_back(j.name);
    wrong.add(node.where,
              fmt::format("{} plays notes, but 'drive' has no jack 'pitch' (it has {}).",
                          quoted(key.name), listed(names)));
    return false;
}

std::optional<volts> stair_end(const fields& f, std::string_view key, const module_expectations& m,
                               complaint_list& wrong) {
    const auto* node = f.required(key);
    if (node == nullptr) return std::nullopt;
    const auto text = text_of(*node, key, wrong);
    if (text.empty()) return std::nullopt;
    const auto v = pitch_voltage(text, key, node->where, m.pitch, wrong);
    if (v) require_reach(*v, node->where, m, wrong);
    return v;
}

/// The step of a stair, in volts or as an interval.
std::optional<volts> stair_step(const fields& f, const pitch_law& law, complaint_list& wrong) {
    const auto* node = f.required("every");
    if (node == nullptr) return std::nullopt;
    const auto text = text_of(*node, "every", wrong);
    if (text.empty()) return std::nullopt;
    const auto m = parse_measure(text);
    volts step{0.0};
    if (m && m->unit == dimension::cents) {
        step = law.per_octave * to_octaves(cents{m->in_base_unit}).value();
    } else {
        const auto v = parse_quantity(text, {dimension::volts, "every", "1 semitone"});
        if (!v) {
            wrong.add(node->where, v.error());
            return std::nullopt;
        }
        step = volts{*v};
    }
    if (step > volts{0.0}) return step;
    wrong.add(node->where, fmt::format("{} is no step up; 'every' must be above 0.", quoted(text)));
    return std::nullopt;
}

std::optional<note_stair::direction> stair_order(const fields& f, complaint_list& wrong) {
    const auto* node = f.optional("order");
    if (node == nullptr) return note_stair::direction::up_and_down;
    const auto text = text_of(*node, "order", wrong);
    if (text == "up") return note_stair::direction::up;
    if (text == "down") return note_stair::direction::down;
    if (text == "up and down") return note_stair::direction::up_and_down;
    const std::vector<std::string> orders{"up", "down", "up and down"};
    if (!text.empty()) wrong.add(node->where, not_one_of(text, "an order of notes", orders));
    return std::nullopt;
}

bool is_playable(const note_stair& s, const yaml_node& node, complaint_list& wrong) {
    if (!(s.from < s.to)) {
        wrong.add(node.where, fmt::format("The notes go from {} to {}; 'from' must be below 'to', "
                                          "and 'order' says whether they go up or down.",
                                          in_volts(s.from), in_volts(s.to)));
        return false;
    }
    const double notes = std::floor((s.to - s.from) / s.every + 1e-6) + 1.0;
    if (notes >= 2.0 && notes <= most_notes) return true;
    wrong.add(node.where, notes < 2.0
                              ? "This is a single note; 'every' is larger than the whole range."
                              : fmt::format("These are {:.0f} notes, and {:.0f} are allowed; make "
                                            "'every' larger.",
                                            notes, most_notes));
    return false;
}

std::optional<voltage_step> read_step(const yaml_node& node, const key_spec& key,
                                      const module_expectations& m, complaint_list& wrong) {
    const auto text = text_of(node, key.name, wrong);
    if (text.empty()) return std::nullopt;
    const auto sides = split_pair(text, " to ");
    if (!sides) {
        wrong.add(node.where,
                  fmt::format("{} is not a step of the pitch voltage; write for example "
                              "'0 V to 1 V'.",
                              quoted(text)));
        return std::nullopt;
    }
    const auto from = pitch_voltage(sides->first, key.name, node.where, m.pitch, wrong);
    const auto to = pitch_voltage(sides->second, key.name, node.where, m.pitch, wrong);
    if (!from || !to) return std::nullopt;
    require_reach(*from, node.where, m, wrong);
    require_reach(*to, node.where, m, wrong);
    if (*from != *to) return voltage_step{*from, *to};
    wrong.add(node.where, fmt::format("{} does not change the pitch.", quoted(text)));
    return std::nullopt;
}

}  // namespace

bool looks_like_a_stair(const yaml_node& node) {
    return std::any_of(stair_keys.begin(), stair_keys.end(),
                       [&](const char* key) { return node.find(key) != nullptr; });
}

std::optional<value> read_stair(const yaml_node& node, const key_spec& key,
                                const module_expectations& m, complaint_list& wrong) {
    if (!has_pitch_jack(node, key, m, wrong)) return std::nullopt;
    const fields f{node, quoted(key.name), {stair_keys.begin(), stair_keys.end()}, wrong};
    if (!f.usable()) return std::nullopt;
    const auto from = stair_end(f, "from", m, wrong);
    const auto to = stair_end(f, "to", m, wrong);
    const auto every = stair_step(f, m.pitch, wrong);
    const auto order = stair_order(f, wrong);
    if (!from || !to || !every || !order) return std::nullopt;
    const note_stair stair{*from, *to, *every, *order};
    if (!is_playable(stair, node, wrong)) return std::nullopt;
    return value{stair};
}

std::optional<value> read_steps(const yaml_node& node, const key_spec& key,
                                const module_expectations& m, complaint_list& wrong) {
    if (!has_pitch_jack(node, key, m, wrong)) return std::nullopt;
    const bool list = node.what == yaml_node::kind::list;
    if (!list || node.items.empty() || static_cast<double>(node.items.size()) > most_notes) {
        wrong.add(node.where,
                  fmt::format("{} wants a list of 1 to {:.0f} steps, such as [0 V to 1 V, 2 V to 1 "
                              "V], and here is {}.",
                              quoted(key.name), most_notes,
                              list ? fmt::format("a list of {}", node.items.size())
                                   : std::string{in_words(node.what)}));
        return std::nullopt;
    }
    std::vector<voltage_step> steps;
    for (const auto& item : node.items) {
        if (const auto step = read_step(item, key, m, wrong)) steps.push_back(*step);
    }
    if (steps.size() != node.items.size()) return std::nullopt;
    return value{std::move(steps)};
}

}  // namespace cvrig
