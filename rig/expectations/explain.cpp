#include "rig/expectations/explain.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

#include "rig/expectations/explain_calibration.hpp"
#include "rig/expectations/explain_console.hpp"
#include "rig/expectations/quantity.hpp"
#include "rig/expectations/value_in_words.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

std::string in_words(const driven_jack& jack) {
    return fmt::format("{} ({} {} {})", jack.name, show(jack.low.value(), dimension::volts),
                       jack.is_gate ? "or" : "to", show(jack.high.value(), dimension::volts));
}

std::string wiring(const module_expectations& m) {
    std::vector<std::string> fed;
    for (const auto& jack : m.drive) fed.push_back(in_words(jack));
    return fmt::format(
        "The bench feeds the jacks {}, and records {}.\nAt {} the module plays {}, and every {} "
        "more is one octave more.\n",
        listed(fed), listed(m.listen), show(m.pitch.at.value(), dimension::volts),
        show(m.pitch.reference.value(), dimension::hertz),
        show(m.pitch.per_octave.value(), dimension::volts));
}

/// The values of a setting that the choices play, each once, in their order.
std::vector<std::string> played(const std::string& name, const std::vector<setting_choice>& in) {
    std::vector<std::string> values;
    for (const auto& choice : in) {
        const auto found = choice.find(name);
        if (found == choice.end()) continue;
        if (std::find(values.begin(), values.end(), found->second) == values.end()) {
            values.push_back(found->second);
        }
    }
    return values;
}

std::string settings_line(const check_expectation& check, const module_expectations& m) {
    std::string all;
    for (const auto& s : m.settings) {
        const auto values = played(s.name, check.in);
        if (values.empty()) continue;
        all += fmt::format("{}{} {}", all.empty() ? "" : "; ", s.name, listed(values));
    }
    if (all.empty()) return {};
    if (check.in.size() == 1) return fmt::format("  with   {}\n", all);
    return fmt::format("  with   {} ({} combinations in turn)\n", all, check.in.size());
}

/// What a key says for one or more values of a setting.
struct said_for {
    std::string what;
    std::vector<std::string> values;
};

/// Values of the setting that say the same share one entry.
std::vector<said_for> grouped(const keyed_value& keyed, const check_expectation& check,
                              const pitch_law& law) {
    std::vector<said_for> groups;
    for (const auto& v : played(keyed.setting, check.in)) {
        const auto* said = keyed.find({{keyed.setting, v}});
        if (said == nullptr) continue;
        const auto what = in_words(*said, law);
        const auto same = std::find_if(groups.begin(), groups.end(),
                                       [&](const said_for& g) { return g.what == what; });
        if (same == groups.end()) {
            groups.push_back({what, {v}});
        } else {
            same->values.push_back(v);
        }
    }
    return groups;
}

std::string in_words(const keyed_value& keyed, const check_expectation& check,
                     const pitch_law& law) {
    if (keyed.setting.empty()) {
        return keyed.otherwise ? in_words(*keyed.otherwise, law) : std::string{};
    }
    const auto groups = grouped(keyed, check, law);
    if (groups.size() == 1) return groups.front().what;
    std::string all;
    for (const auto& g : groups) {
        all += fmt::format("{}{} with {} {}", all.empty() ? "" : "; ", g.what, keyed.setting,
                           listed(g.values));
    }
    return all;
}

/// One line for each key that the file gives, of those that are demands or of those that are not.
std::string key_lines(const check_expectation& check, const check_spec& spec, bool demands,
                      const pitch_law& law) {
    std::string lines;
    for (const auto& key : spec.keys) {
        const auto found = check.keys.find(key.name);
        if (key.is_demand() != demands || found == check.keys.end()) continue;
        const auto said = in_words(found->second, check, law);
        lines += demands ? fmt::format("    - {}: {} {}\n", key.name, key.meaning, said)
                         : fmt::format("    - {} ({}): {}\n", key.name, key.meaning, said);
    }
    return lines;
}

std::string paragraph(const check_expectation& check, const check_spec& spec,
                      const module_expectations& m) {
    auto text = fmt::format("\n{}\n  plays  {}\n", check.name, spec.plays);
    text += key_lines(check, spec, false, m.pitch);
    // How the module is set is nothing to a check that plays nothing.
    if (!spec.plays.starts_with("nothing")) text += settings_line(check, m);
    text += fmt::format("  reads  {}\n  demands that\n", spec.reads);
    return text + key_lines(check, spec, true, m.pitch);
}

std::string judging(const module_expectations& m) {
    auto text = fmt::format(
        "\nA reading passes only if it lies inside its limit by at least {0} times its standard "
        "uncertainty, and fails only if it lies outside by as much. In between it is unsure",
        show(m.coverage_factor, dimension::ratio));
    text += m.retakes == 0 ? ".\n"
                           : fmt::format(", and is measured again up to {} time{}.\n", m.retakes,
                                         m.retakes == 1 ? "" : "s");
    if (m.settings.empty()) return text;
    return text +
           "A check without 'in' is played with every combination of settings; a setting that "
           "'in' does not name keeps the first of its values.\n";
}

/// "level: at most 8 V", as an example; the words that may stand there; or the form in a word.
std::string what_to_write(const key_spec& key) {
    switch (key.kind) {
        case key_spec::form::limit:
            return key.only_upper ? "none, or at most so many"
                                  : std::string{example_limit(key.unit)};
        case key_spec::form::word:
            return cvrig::listed(key.words);
        case key_spec::form::measure:
            return std::string{cvrig::in_words(key.unit)};
        case key_spec::form::stair:
            return "{from: ..., to: ..., every: ..., order: ...}";
        case key_spec::form::steps:
            return "[0 V to 1 V, ...]";
        case key_spec::form::regions:
            return "{NAME: {from: ..., size: ..., used: ...}, ...}";
        case key_spec::form::pattern:
            return "a regular expression";
        case key_spec::form::setting:
            return "the name of a setting";
    }
    return {};
}

std::string all_keys(const check_spec& spec, bool demands) {
    std::string lines;
    for (const auto& key : spec.keys)
        if (key.is_demand() == demands)
            lines += fmt::format("  {}: {} ...\n      such as: {}\n", key.name, key.meaning,
                                 what_to_write(key));
    return lines;
}

}  // namespace

std::string explain_check(const check_spec& spec) {
    auto text = fmt::format("{}\n  plays  {}\n  reads  {}\n", spec.name, spec.plays, spec.reads);
    if (const auto how = all_keys(spec, false); !how.empty()) text += "How it looks:\n" + how;
    return text + "What it can demand that:\n" + all_keys(spec, true);
}

std::string explain(const module_expectations& m, std::span<const check_spec> known) {
    auto text = fmt::format("{}\n\n{}{}", m.module, wiring(m), explain_console(m));
    for (const auto& check : m.checks) {
        const auto spec = std::find_if(known.begin(), known.end(),
                                       [&](const check_spec& s) { return s.name == check.name; });
        if (spec != known.end()) text += paragraph(check, *spec, m);
    }
    return text + explain_calibration(m) + judging(m);
}

}  // namespace cvrig
