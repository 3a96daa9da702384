#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rig/expectations/wording.hpp"
#include "rig/report/fleet_story.hpp"

namespace cvrig::report {

namespace {

std::vector<std::string> limit_heads(const fleet_answer& a) {
    std::vector<std::string> out;
    for (const auto& c : a.defaults.front().kept)
        out.push_back(show(c.limit_cents, dimension::cents));
    return out;
}

std::string uncertain_cents(const worst_note& w, double k) {
    return uncertain_number(std::abs(w.error_cents), k * w.u_cents);
}

fleet_table seen_units(const fleet_answer& a) {
    fleet_table t{
        .title = fmt::format("The {} measured units with each default: cents, and how many are "
                             "within",
                             a.chosen.units.size()),
        .head = {"Default", "Worst unit", "Median unit"},
        .rows = {},
        .notes = {}};
    std::ranges::copy(limit_heads(a), std::back_inserter(t.head));
    for (const auto& d : a.defaults) {
        std::vector<std::string> row{
            std::string{in_words(d.kind)},
            uncertain_cents(d.worst[d.worst_unit()], a.asked.coverage_factor),
            fmt::format("{:.1f}", d.median_cents())};
        for (const auto& c : d.kept) row.push_back(counted_in_words(c));
        t.rows.push_back(std::move(row));
    }
    t.notes.push_back("A unit's error is that of its worst note.");
    const bool doubt = std::ranges::any_of(a.defaults, [](const default_choice& d) {
        return std::ranges::any_of(d.kept, [](const kept_count& c) { return c.undecided > 0; });
    });
    if (doubt)
        t.notes.push_back("\"1 to 2\": some lie closer to the limit than their uncertainty.");
    return t;
}

std::string share_cell(const unseen_share& s) {
    return fmt::format("{} to {}", per_cent(s.lower), per_cent(s.upper));
}

fleet_table unseen_units(const fleet_answer& a) {
    fleet_table t{
        .title =
            "Units that nobody has measured yet: which share is within (about 95 % confidence)",
        .head = {"Default"},
        .rows = {},
        .notes = {}};
    std::ranges::copy(limit_heads(a), std::back_inserter(t.head));
    t.head.push_back("No worse than the worst");
    for (const auto& d : a.defaults) {
        std::vector<std::string> row{std::string{in_words(d.kind)}};
        for (const auto& s : a.unseen)
            if (s.kind == d.kind) row.push_back(share_cell(s));
        for (const auto& w : a.unseen_worst_units)
            if (w.kind == d.kind)
                row.push_back(
                    fmt::format("{} within {:.1f} cent", per_cent(w.share), w.worst_cents));
        t.rows.push_back(std::move(row));
    }
    t.notes.push_back(
        "By counting (Clopper-Pearson; last column: Wilks), whatever the distribution. Each unit "
        "was "
        "judged with the default that the others alone would choose.");
    t.notes.emplace_back(
        "Those share units, so the confidence is about 95 %. The default as it is stands for "
        "others "
        "only if it was chosen from none of these units.");
    return t;
}

}  // namespace

std::vector<fleet_table> tables_of_defaults(const fleet_answer& a) {
    if (a.defaults.empty()) return {};
    std::vector<fleet_table> out{seen_units(a)};
    if (!a.unseen.empty()) out.push_back(unseen_units(a));
    return out;
}

}  // namespace cvrig::report
