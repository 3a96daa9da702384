#include "rig/report/comparison_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include "rig/report/ink.hpp"
#include "rig/report/paragraphs.hpp"
#include "rig/report/phrases.hpp"

namespace cvrig {

namespace {

using evidence::compared_finding;
using evidence::comparison;
using evidence::told_finding;
using report::counted;

/// Names demands without the settings that all of them share.
class namer {
public:
    explicit namer(const setting_choice& throughout) : throughout_{throughout} {}

    std::string operator()(const std::string& check, const setting_choice& choice,
                           const std::string& name) const {
        const auto settings = in_words(without(choice, throughout_));
        return settings.empty() ? fmt::format("{}, {}", check, name)
                                : fmt::format("{} ({}), {}", check, settings, name);
    }
    std::string operator()(const compared_finding& c) const {
        return (*this)(c.check, c.choice, c.name);
    }

private:
    const setting_choice& throughout_;
};

std::string short_sha(const std::string& text) {
    constexpr std::size_t digits = 64, shown = 12;
    const bool is_hash =
        text.size() == digits && text.find_first_not_of("0123456789abcdef") == std::string::npos;
    return is_hash ? text.substr(0, shown) : text;
}

std::string or_none(const std::string& text) {
    return text.empty() ? "none" : short_sha(text);
}

std::string side(const told_finding& f, double k, bool with_place) {
    if (f.answered)
        return fmt::format("{} ({})", f.answered->text,
                           report::odds_text(f.answered->probability.value_or(-1.0)));
    if (!f.measured || !f.measured->value) return "no reading";
    const auto& m = *f.measured;
    const auto text = show(*m.value, k * m.standard_uncertainty.value_or(INFINITY), m.unit);
    return with_place && !m.at.empty() ? fmt::format("{} at {}", text, m.at) : text;
}

std::string times(double n) {
    if (std::isinf(n)) return "though neither is uncertain";
    const auto number = n < 10.0 ? fmt::format("{:.2g}", n) : fmt::format("{:.0f}", n);
    return fmt::format("{} times what both uncertainties allow", number);
}

std::string difference_of(const compared_finding& c, double k, const side_names& names,
                          const namer& where) {
    // The worst note of the one may be another than that of the other.
    const bool elsewhere =
        c.first.measured && c.second.measured && c.first.measured->at != c.second.measured->at;
    auto text = fmt::format("{}: {} {}, {} {}", where(c), side(c.first, k, elsewhere), names.first,
                            side(c.second, k, elsewhere), names.second);
    if (c.difference)
        text += fmt::format("; they differ by {}, {}",
                            show(std::abs(*c.difference), c.first.measured->unit),
                            times(*c.times_allowed));
    return text + ".";
}

std::string verdicts_of(const compared_finding& c, const side_names& names, const namer& where) {
    auto text = fmt::format("{}: {} {}, {} {}", where(c), in_words(c.first.outcome), names.first,
                            in_words(c.second.outcome), names.second);
    if (c.first.demand != c.second.demand)
        text += fmt::format(" (demanded: {} and {})", or_none(c.first.demand),
                            or_none(c.second.demand));
    return text + ".";
}

std::string reason_of(const compared_finding& c, const side_names& names) {
    const bool first_lacks = !c.first.measured && !c.first.answered;
    const bool second_lacks = !c.second.measured && !c.second.answered;
    if (first_lacks || second_lacks) {
        const auto& f = first_lacks ? c.first : c.second;
        return fmt::format("no reading {}{}", first_lacks ? names.first : names.second,
                           f.reason.empty() ? "." : ": " + report::sentence(f.reason));
    }
    if (c.first.answered) return "the answers differ, but not both are sure.";
    if (c.first.measured->measurement_version != c.second.measured->measurement_version)
        return "cvrig has changed how it measures this, so the two do not compare.";
    return "a value or its uncertainty is not known.";
}

/// One line for all demands of a check that have the same said of them.
std::vector<std::string> grouped(const std::vector<compared_finding>& all, const side_names& names,
                                 const namer& where) {
    std::vector<std::pair<compared_finding, std::string>> groups;
    for (const auto& c : all) {
        const auto reason = reason_of(c, names);
        if (groups.empty() || groups.back().first.check != c.check ||
            groups.back().first.choice != c.choice || groups.back().second != reason)
            groups.emplace_back(c, reason);
        else
            groups.back().first.name += ", " + c.name;
    }
    std::vector<std::string> out;
    for (const auto& [c, reason] : groups) out.push_back(fmt::format("{}: {}", where(c), reason));
    return out;
}

std::vector<std::string> circumstances_of(const comparison& c, const side_names& names) {
    std::vector<std::string> out;
    for (const auto& one : c.circumstances)
        out.push_back(fmt::format("{}: {} {}, {} {}.", one.what, or_none(one.first), names.first,
                                  or_none(one.second), names.second));
    return out;
}

std::vector<std::string> lone(const std::vector<evidence::lone_finding>& all, const namer& where) {
    std::vector<evidence::lone_finding> groups;
    for (const auto& f : all) {
        if (groups.empty() || groups.back().check != f.check || groups.back().choice != f.choice)
            groups.push_back(f);
        else
            groups.back().name += ", " + f.name;
    }
    std::vector<std::string> out;
    for (const auto& f : groups) out.push_back(where(f.check, f.choice, f.name) + ".");
    return out;
}

std::string farthest_in_words(const comparison& c, const namer& where) {
    if (c.readings == 0) return {};
    if (!c.farthest) return " All readings are equal.";
    return fmt::format(" Farthest apart: {}, {:.2g} of what both uncertainties allow.",
                       where(*c.farthest), *c.farthest->times_allowed);
}

std::string headline(const comparison& c, const namer& where) {
    auto compared = counted(c.readings, "reading", "readings");
    if (c.answers > 0) compared += " and " + counted(c.answers, "answer", "answers");
    if (c.compared() == 0) return "Nothing could be compared.";
    if (c.differing.empty())
        return fmt::format("Of {} none differs beyond both uncertainties (k = {:g}).{}", compared,
                           c.coverage_factor, farthest_in_words(c, where));
    return fmt::format(
        "Of {} {} beyond both uncertainties (k = {:g}).", compared,
        c.differing.size() == 1 ? "1 differs" : fmt::format("{} differ", c.differing.size()),
        c.coverage_factor);
}

/// A reader of a long list must know how much of it means nothing.
std::vector<std::string> by_chance(const comparison& c) {
    if (c.differing.empty() || c.readings < 10) return {};
    return {fmt::format(
        "If their uncertainties were scatter alone, {:.1f} of {} readings of equal modules "
        "would differ by chance.",
        c.by_chance(), c.readings)};
}

}  // namespace

std::string comparison_text(const comparison& c, const side_names& names,
                            const terminal_style& style) {
    const report::ink pen{style};
    const namer where{c.throughout};
    std::vector<std::string> differing, verdicts;
    for (const auto& one : c.differing)
        differing.push_back(difference_of(one, c.coverage_factor, names, where));
    for (const auto& one : c.other_verdicts) verdicts.push_back(verdicts_of(one, names, where));
    std::string out;
    report::add_paragraphs(out, "What is not the same", circumstances_of(c, names), pen);
    report::add_paragraphs(out, "How far they agree", {headline(c, where)}, pen);
    report::add_paragraphs(out, "Readings that differ", differing, pen);
    report::add_paragraphs(out, "By chance", by_chance(c), pen);
    report::add_paragraphs(out, "Verdicts that differ", verdicts, pen);
    report::add_paragraphs(out, "Not compared", grouped(c.incomparable, names, where), pen);
    report::add_paragraphs(out, fmt::format("Only {}", names.first), lone(c.only_first, where),
                           pen);
    report::add_paragraphs(out, fmt::format("Only {}", names.second), lone(c.only_second, where),
                           pen);
    return out;
}

}  // namespace cvrig
