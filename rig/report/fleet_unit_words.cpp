#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rig/expectations/wording.hpp"
#include "rig/report/fleet_story.hpp"

namespace cvrig::report {

namespace {

std::string_view unit_of(trait t) {
    return t == trait::gain ? " an octave" : "";
}

std::string amount(trait t, double cents) {
    return fmt::format(
        "{}{}",
        t == trait::straightness || t == trait::scatter ? plain_cents(cents) : signed_cents(cents),
        unit_of(t));
}

std::string where(const outlier& o) {
    return o.what == trait::straightness ? fmt::format(" at {}", show(o.at_volts, dimension::volts))
                                         : std::string{};
}

std::string on_odd_unit(const outlier& o, const fleet_answer& a) {
    auto text = fmt::format("Unit {} is odd in {}: {} ± {}{}, where the median unit has {}", o.unit,
                            in_words(o.what), amount(o.what, o.cents),
                            plain_cents(a.asked.coverage_factor * o.u_cents), where(o),
                            amount(o.what, o.median_cents));
    if (std::isfinite(o.score))
        text += fmt::format(" ({:.1f} robust standard deviations away)", o.score);
    if (o.points_to.empty()) return text + "; too much of it is odd to point to one cause.";
    if (o.points_to.starts_with("this ")) return text + "; " + o.points_to + ".";
    return text + "; look at " + o.points_to + ".";
}

std::string bare(double cents) {
    return cents < 0.095 ? fmt::format("{:.2f}", cents) : fmt::format("{:.1f}", cents);
}

/// "97 % is units (11.2 cent an octave; 8.9 to 15)".
std::string on_part(const scatter_part& p, std::string_view who, std::string_view unit) {
    const auto upper = std::isfinite(p.upper_cents) ? bare(p.upper_cents) : "anything";
    return fmt::format("{} is {} ({}{}; {} to {})", per_cent(p.share), who, bare(p.cents), unit,
                       bare(p.lower_cents), upper);
}

std::string on_source(const scatter_source& s, bool builds_told) {
    // Nobody cares where a scatter comes from that nobody hears.
    constexpr double least_cents = 0.1;
    const double all = std::hypot(s.units.cents, s.builds.cents, s.rest.cents);
    if (all < least_cents)
        return fmt::format("The scatter in {} is {} in all, wherever it comes from.",
                           in_words(s.what), plain_cents(all));
    std::vector<std::string> parts{
        on_part(s.units, "units", fmt::format(" cent{}", unit_of(s.what)))};
    if (builds_told) parts.push_back(on_part(s.builds, "builds", ""));
    parts.push_back(on_part(s.rest, "the single record", ""));
    return fmt::format("Of the scatter in {}, {}.", in_words(s.what), listed(parts));
}

std::string count_units(const std::vector<std::string>& units) {
    return fmt::format("{} {}", units.size(), units.size() == 1 ? "unit" : "units");
}

std::string at_ends(const build_change& c, double limit) {
    // The end that moves most says it; the other only where it moves as well.
    const auto& far =
        std::abs(c.ends[0].mean_cents) > std::abs(c.ends[1].mean_cents) ? c.ends[0] : c.ends[1];
    const auto& near = &far == &c.ends[0] ? c.ends[1] : c.ends[0];
    auto text = fmt::format("{} at {} (95 % confidence: {} to {})", signed_cents(far.mean_cents),
                            show(far.at_volts, dimension::volts), signed_cents(far.low_cents),
                            signed_cents(far.high_cents));
    if (std::abs(near.mean_cents) > 0.2 * limit)
        text += fmt::format(" and {} at {}", signed_cents(near.mean_cents),
                            show(near.at_volts, dimension::volts));
    return text;
}

std::string whose_units(const build_change& c) {
    return c.under_own ? "calibrated units" : "units under default constants";
}

double largest_move(const build_change& c, double k) {
    double most = 0.0;
    for (const auto& e : c.ends)
        most = std::max({most, std::abs(e.least_cents) + k * e.u_unit_cents,
                         std::abs(e.most_cents) + k * e.u_unit_cents});
    return most;
}

/// What else would look the same, and who was left out.
std::string caution_on(const build_change& c, double limit) {
    std::string text;
    using verdict = build_change::verdict;
    if (!c.reckoned && !c.under_own && c.says != verdict::none)
        text += " A change of the default itself would look the same.";
    if (!c.reckoned && c.under_own)
        text += " This holds if no calibration in between went without a record.";
    if (c.benches_cents > 0.2 * limit && c.says != verdict::cannot_tell)
        text += fmt::format(" The benches themselves may differ by {}, which is allowed for.",
                            plain_cents(c.benches_cents));
    if (!c.calibrated_between.empty())
        text += fmt::format(
            " Left out, since calibrated between the two with constants that no console told: {}.",
            listed(c.calibrated_between));
    return text;
}

std::string on_build(const build_change& c, const fleet_answer& a) {
    const auto limit = show(a.asked.limit_cents, dimension::cents);
    const auto head = fmt::format("Build {} against {}", c.to, c.from);
    const auto caution = caution_on(c, a.asked.limit_cents);
    switch (c.says) {
        case build_change::verdict::calibrate:
            return fmt::format(
                "{}: it moves {} {} by {} on average, more than {}: users must calibrate again.{}",
                head, c.units.size(), whose_units(c), at_ends(c, a.asked.limit_cents), limit,
                caution);
        case build_change::verdict::some:
            return fmt::format(
                "{}: {} of {} move by more than {}, though not all alike ({}): their users must "
                "calibrate again.{}",
                head, c.moved, count_units(c.units), limit, at_ends(c, a.asked.limit_cents),
                caution);
        case build_change::verdict::none:
            return fmt::format(
                "{}: none of {} {} moves by more than {}; nobody need calibrate again.{}", head,
                c.units.size(), whose_units(c),
                plain_cents(largest_move(c, a.asked.coverage_factor)), caution);
        case build_change::verdict::cannot_tell:
            break;
    }
    if (c.ends.empty()) return fmt::format("{}: cannot tell. {}", head, c.why);
    return fmt::format("{}: cannot tell whether users must calibrate again. {} It is {}.{}", head,
                       c.why, at_ends(c, a.asked.limit_cents), caution);
}

}  // namespace

std::vector<std::string> words_on_odd_units(const fleet_answer& a) {
    if (a.chosen.units.size() < 2) return {};
    if (!a.odd.why_not.empty()) return {a.odd.why_not};
    if (a.odd.outliers.empty())
        return {
            "No unit is unlike the others in gain, offset, straightness, hysteresis or scatter."};
    std::vector<std::string> out;
    for (const auto& o : a.odd.outliers) out.push_back(on_odd_unit(o, a));
    return out;
}

std::vector<std::string> words_on_scatter(const fleet_answer& a) {
    std::vector<std::string> out;
    for (const auto& s : a.scatter.sources) out.push_back(on_source(s, a.scatter.builds_told));
    if (!out.empty() && !a.scatter.repeats)
        out.back() +=
            " No unit was measured twice with one build, so the single record's part holds also "
            "what "
            "one build does to one unit only.";
    if (!a.scatter.why_not.empty()) out.push_back(a.scatter.why_not);
    return out;
}

std::vector<std::string> words_on_builds(const fleet_answer& a) {
    if (a.chosen.builds.size() < 2)
        return {
            fmt::format("Only build {} was measured: whether a build makes users calibrate again "
                        "cannot be told.",
                        a.chosen.build)};
    std::vector<std::string> out;
    for (const auto& c : a.changes) out.push_back(on_build(c, a));
    return out;
}

}  // namespace cvrig::report
