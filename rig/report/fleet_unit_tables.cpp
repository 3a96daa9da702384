#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rig/report/fleet_story.hpp"

namespace cvrig::report {

namespace {

std::string told(const std::optional<told_cents>& t, std::string_view form) {
    return t ? fmt::format(fmt::runtime(form), t->cents) : std::string{};
}

std::string odd_in(const fleet_answer& a, const std::string& unit) {
    std::string out;
    for (const auto& o : a.odd.outliers)
        if (o.unit == unit) out += fmt::format("{}{}", out.empty() ? "" : ", ", in_words(o.what));
    return out;
}

fleet_table each_unit(const fleet_answer& a) {
    fleet_table t{
        .title = "Each unit, in cents, with the default as it is",
        .head = {"Unit", "Gain", "Offset", "Bend", "Hyst.", "Scatter", "Worst"},
        .rows = {},
        .notes = {fmt::format(
            "Gain: cents an octave of the best straight line. Offset: that line at "
            "{}. Bend: farthest departure from it. Hyst.: down less up. "
            "Scatter: standard deviation of a note. Worst: of any note, then the same with "
            "the other defaults.",
            show(a.chosen.reference_volts, dimension::volts))}};
    for (std::size_t i = 1; i < a.defaults.size(); ++i)
        t.head.push_back(std::string{in_words(a.defaults[i].kind)});
    const bool any_odd = !a.odd.outliers.empty();
    if (any_odd) t.head.emplace_back("Odd in");
    for (std::size_t i = 0; i < a.chosen.units.size(); ++i) {
        const auto& u = a.chosen.units[i];
        std::vector<std::string> row{u.name,
                                     told(u.traits.gain, "{:+.2f}"),
                                     told(u.traits.offset, "{:+.2f}"),
                                     told(u.traits.straightness, "{:.2f}"),
                                     told(u.traits.hysteresis, "{:+.3f}"),
                                     told(u.traits.scatter, "{:.3f}")};
        if (a.defaults.empty()) row.emplace_back();
        for (const auto& d : a.defaults)
            row.push_back(fmt::format("{:.1f}", std::abs(d.worst[i].error_cents)));
        if (any_odd) row.push_back(odd_in(a, u.name));
        t.rows.push_back(std::move(row));
    }
    return t;
}

const scatter_source* source_of(const fleet_answer& a, trait what) {
    const auto found = std::ranges::find(a.scatter.sources, what, &scatter_source::what);
    return found == a.scatter.sources.end() ? nullptr : &*found;
}

std::string share(const scatter_part& p) {
    return fmt::format("{:.1f} %", 100.0 * p.share);
}

fleet_table each_trait(const fleet_answer& a) {
    fleet_table t{
        .title = "How the units spread",
        .head = {"Trait", "Median", "Robust SD", "Lowest", "Highest"},
        .rows = {},
        .notes = {
            "In cents, the gain in cents an octave. Robust SD: 1.4826 times the median absolute "
            "deviation."}};
    if (!a.scatter.sources.empty()) {
        t.head.insert(t.head.end(), {"Units", "Builds", "Record"});
        t.notes.emplace_back(
            "Units, builds, record: their shares of the variance (two crossed random effects, "
            "REML).");
    }
    for (const auto& s : a.odd.spreads) {
        // Of a sound unit the last two are thousandths of a cent.
        const int places = s.what == trait::hysteresis || s.what == trait::scatter ? 3 : 2;
        std::vector<std::string> row{std::string{in_words(s.what)},
                                     fmt::format("{:+.{}f}", s.median_cents, places),
                                     fmt::format("{:.{}f}", s.robust_sd_cents, places),
                                     fmt::format("{:+.{}f}", s.lowest_cents, places),
                                     fmt::format("{:+.{}f}", s.highest_cents, places)};
        if (const auto* source = source_of(a, s.what))
            row.insert(row.end(), {share(source->units),
                                   a.scatter.builds_told ? share(source->builds) : std::string{},
                                   share(source->rest)});
        row.resize(t.head.size());
        t.rows.push_back(std::move(row));
    }
    return t;
}

/// A number of cents without its unit, and never "-0.0".
std::string bare(double cents) {
    return fmt::format("{:+.1f}", std::abs(cents) < 0.05 ? 0.0 : cents);
}

std::string_view verdict_of(const build_change& c) {
    switch (c.says) {
        case build_change::verdict::none:
            return "nobody";
        case build_change::verdict::calibrate:
            return "all users";
        case build_change::verdict::some:
            return "some users";
        case build_change::verdict::cannot_tell:
            return "cannot tell";
    }
    return "cannot tell";
}

}  // namespace

std::vector<fleet_table> tables_of_units(const fleet_answer& a) {
    if (a.chosen.units.empty()) return {};
    return {each_trait(a), each_unit(a)};
}

std::vector<fleet_table> tables_of_builds(const fleet_answer& a) {
    if (a.changes.empty()) return {};
    const auto low = show(a.chosen.low_volts, dimension::volts);
    const auto high = show(a.chosen.high_volts, dimension::volts);
    fleet_table t{
        .title = "From build to build, the same units",
        .head = {"Build", "Units", "Under", fmt::format("At {}", low), fmt::format("At {}", high),
                 fmt::format("Each at {}", high), "Calibrate"},
        .rows = {},
        .notes = {
            "In cents: the mean with its 95 % confidence interval, wider by what two benches may "
            "differ by; then the range of single units."}};
    for (const auto& c : a.changes) {
        std::vector<std::string> row{fmt::format("{} to {}", c.from, c.to),
                                     fmt::format("{}", c.units.size()),
                                     c.units.empty() ? ""
                                     : c.under_own   ? "own"
                                                     : "default"};
        for (const auto& e : c.ends)
            row.push_back(uncertain_number(e.mean_cents, e.high_cents - e.mean_cents));
        if (!c.ends.empty())
            row.push_back(fmt::format("{} to {}", bare(c.ends.back().least_cents),
                                      bare(c.ends.back().most_cents)));
        row.resize(t.head.size() - 1);
        row.emplace_back(verdict_of(c));
        t.rows.push_back(std::move(row));
    }
    return {t};
}

}  // namespace cvrig::report
