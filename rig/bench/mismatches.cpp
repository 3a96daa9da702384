#include <fmt/format.h>

#include <algorithm>

#include "rig/bench/bench.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

constexpr volts rounding{1e-9};

std::string in_volts(volts v) {
    return show(v.value(), dimension::volts, 6);
}

const bench_output* output_for(const bench& b, const std::string& jack) {
    const auto found = std::find_if(b.outputs.begin(), b.outputs.end(),
                                    [&](const bench_output& o) { return o.jack == jack; });
    return found == b.outputs.end() ? nullptr : &*found;
}

bool hears(const bench& b, const std::string& jack) {
    return std::any_of(b.inputs.begin(), b.inputs.end(),
                       [&](const bench_input& i) { return i.jack == jack; });
}

bool reaches(const bench_output& o, volts low, volts high) {
    return low >= o.lowest - rounding && high <= o.highest + rounding;
}

complaint out_of_limits(const bench& b, const bench_output& o, const place& where, volts low,
                        volts high) {
    return {where, fmt::format("Jack {} would get {} to {}, but its output of bench {} is limited "
                               "to {} to {} ({}).",
                               quoted(o.jack), in_volts(low), in_volts(high), quoted(b.name),
                               in_volts(o.lowest), in_volts(o.highest), o.where.text())};
}

void compare_jack(const bench& b, const driven_jack& jack, std::vector<complaint>& out) {
    const auto* o = output_for(b, jack.name);
    if (o == nullptr) {
        out.push_back({jack.where, fmt::format("No output of bench {} feeds jack {}; add it to "
                                               "'outputs' in {}.",
                                               quoted(b.name), quoted(jack.name), b.file)});
    } else if (!reaches(*o, jack.low, jack.high)) {
        out.push_back(out_of_limits(b, *o, jack.where, jack.low, jack.high));
    }
}

/// The voltages of the pitch jack that a value plays; low above high for none.
std::pair<volts, volts> extremes(const value& v) {
    if (const auto* stair = std::get_if<note_stair>(&v)) return {stair->from, stair->to};
    const auto* steps = std::get_if<std::vector<voltage_step>>(&v);
    if (steps == nullptr || steps->empty()) return {volts{1.0}, volts{-1.0}};
    volts low = steps->front().from;
    volts high = low;
    for (const auto& s : *steps) {
        low = std::min({low, s.from, s.to});
        high = std::max({high, s.from, s.to});
    }
    return {low, high};
}

void compare_notes(const bench& b, const keyed_value& keyed, std::vector<complaint>& out) {
    const auto* o = output_for(b, "pitch");
    if (o == nullptr) return;
    std::vector<value> all;
    for (const auto& [name, v] : keyed.by_value) all.push_back(v);
    if (keyed.otherwise) all.push_back(*keyed.otherwise);
    for (const auto& v : all) {
        const auto [low, high] = extremes(v);
        if (low <= high && !reaches(*o, low, high)) {
            out.push_back(out_of_limits(b, *o, keyed.where, low, high));
        }
    }
}

/// On an audio link nobody but the console or the operator can set the module.
void compare_settings_by_hand(const bench& b, const module_expectations& m,
                              std::vector<complaint>& out) {
    for (const auto& s : m.settings) {
        if (s.operator_instruction || (s.console && b.console)) continue;
        const auto remedy =
            s.console ? fmt::format("add 'console' to bench {} ({})", quoted(b.name), b.file)
                      : std::string{"give it 'console' (the line that sets it)"};
        out.push_back(
            {s.where, fmt::format("Nothing on this bench can set {}; {} or 'operator' (an "
                                  "instruction) to the setting.",
                                  quoted(s.name), remedy)});
    }
}

void compare_settings(const bench& b, const module_expectations& m, std::vector<complaint>& out) {
    if (b.audio) {
        compare_settings_by_hand(b, m, out);
        return;
    }
    const auto& c = b.program.command;
    if (m.settings.empty() || std::find(c.begin(), c.end(), "{settings}") != c.end()) return;
    out.push_back({m.settings.front().where,
                   fmt::format("The program of bench {} is never told the settings; add "
                               "\"{{settings}}\" to 'program' ({}).",
                               quoted(b.name), b.program.where.text())});
}

}  // namespace

std::vector<complaint> mismatches(const bench& b, const module_expectations& m) {
    std::vector<complaint> out;
    for (const auto& jack : m.drive) compare_jack(b, jack, out);
    for (const auto& jack : m.listen) {
        if (hears(b, jack)) continue;
        out.push_back({m.listen_where, fmt::format("No input of bench {} hears jack {}; add it to "
                                                   "'inputs' in {}.",
                                                   quoted(b.name), quoted(jack), b.file)});
    }
    for (const auto& check : m.checks) {
        for (const auto& [key, keyed] : check.keys) compare_notes(b, keyed, out);
    }
    compare_settings(b, m, out);
    return out;
}

}  // namespace cvrig
