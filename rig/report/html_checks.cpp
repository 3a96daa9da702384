#include <fmt/format.h>

#include <algorithm>

#include "rig/report/clip_file.hpp"
#include "rig/report/finding_mark.hpp"
#include "rig/report/html_parts.hpp"
#include "rig/report/phrases.hpp"

namespace cvrig::report {

namespace {

std::string_view sign(verdict v) {
    switch (v) {
        case verdict::pass:
            return "✓";
        case verdict::fail:
            return "✕";
        case verdict::unsure:
            return "?";
        case verdict::skipped:
            return "–";
    }
    return "✕";
}

void add_table_head(markup& page) {
    page.open("thead");
    page.open("tr");
    for (const auto* name :
         {"Demand", "Settings", "Reading ± U", "Limit", "In its limits", "Verdict"}) {
        page.leaf("th", {{"scope", "col"}}, name);
    }
    page.close();
    page.close();
}

void add_why(markup& page, const std::vector<std::string>& lines) {
    if (lines.empty()) return;
    page.open("ul", {{"class", "why"}});
    for (const auto& line : lines) page.leaf("li", line);
    page.close();
}

void add_row(markup& page, const demand_row& row, const run_layout& layout, explainer& why,
             double coverage_factor) {
    const auto& f = *row.what;
    page.leaf("td", {{"class", "choice"}}, layout.label(row.where->choice));
    page.open("td", {{"class", "number"}});
    page.text(reading_text(f, coverage_factor));
    add_why(page, why.of(f));
    page.close();
    page.leaf("td", {{"class", "demanded"}}, demand_text(f));
    page.open("td", {{"class", "drawn"}});
    add_mark(page, f, coverage_factor);
    page.close();
    page.open("td", {{"class", "verdict"}});
    add_verdict(page, f.outcome);
    page.close();
}

void add_demand(markup& page, const demand_group& demand, const run_layout& layout, explainer& why,
                double coverage_factor) {
    page.open("tbody");
    bool first = true;
    for (const auto& row : demand.rows) {
        page.open("tr");
        if (first) {
            page.leaf("th",
                      {{"scope", "rowgroup"}, {"rowspan", std::to_string(demand.rows.size())}},
                      title_of(demand));
        }
        add_row(page, row, layout, why, coverage_factor);
        page.close();
        first = false;
    }
    page.close();
}

/// Where each uncertainty comes from, for who wants to make the bench surer.
void add_budgets(markup& page, const check_group& group, const run_layout& layout) {
    page.open("details", {{"class", "budgets"}});
    page.leaf("summary", "Uncertainty budgets (standard uncertainties)");
    page.open("ul");
    for (const auto& demand : group.demands) {
        for (const auto& row : demand.rows) {
            const auto& m = row.what->measured;
            if (!m || m->budget.empty()) continue;
            std::string parts;
            for (const auto& part : m->budget) {
                parts += fmt::format("{}{} {}", parts.empty() ? "" : ", ", part.name,
                                     show(part.standard_uncertainty, m->unit, 2));
            }
            page.leaf("li", fmt::format("{} ({}): {}; together {}", title_of(demand),
                                        layout.label(row.where->choice), parts,
                                        show(m->standard_uncertainty, m->unit, 2)));
        }
    }
    page.close();
    page.close();
}

bool has_budget(const check_group& group) {
    return std::any_of(group.results.begin(), group.results.end(), [](const auto* result) {
        return std::any_of(result->findings.begin(), result->findings.end(), [](const finding& f) {
            return f.measured && !f.measured->budget.empty();
        });
    });
}

void add_causes(markup& page, const std::vector<std::string>& causes) {
    if (causes.empty()) return;
    page.open("aside", {{"class", "causes"}, {"aria-label", "Likeliest cause"}});
    page.leaf("h3", "Likeliest cause");
    page.open("ul");
    for (const auto& cause : causes) page.leaf("li", cause);
    page.close();
    page.close();
}

/// The sounds that were kept: files beside the page, so that it stays small.
void add_sounds(markup& page, const check_group& group, const run_layout& layout) {
    if (std::ranges::all_of(group.results, [](const auto* r) { return r->clips.empty(); })) return;
    page.open("div", {{"class", "sounds"}});
    page.leaf("p", fmt::format("What they sounded like; full scale of these files is {}.",
                               show(clip_full_scale.value(), dimension::volts)));
    page.open("ul");
    for (const auto* result : group.results)
        for (const auto& clip : result->clips) {
            const auto file = clip_file(*result, clip);
            page.open("li");
            page.leaf("a", {{"href", file}},
                      fmt::format("{}, {}", clip.name, layout.label(result->choice)));
            page.text(" ");
            page.leaf("audio", {{"controls", ""}, {"preload", "none"}, {"src", file}}, "");
            page.close();
        }
    page.close();
    page.close();
}

void add_check(markup& page, const check_group& group, const run_result& run,
               const run_layout& layout) {
    const auto anchor = anchor_of(group, layout);
    page.open("section",
              {{"class", "check"}, {"id", anchor}, {"aria-labelledby", anchor + "-name"}});
    page.open("h2", {{"id", anchor + "-name"}});
    page.text(group.check);
    page.text(" ");
    add_verdict(page, group.outcome());
    page.close();
    page.leaf("p", {{"class", "reads"}}, group.reads);
    page.open("table", {{"class", "findings"}});
    page.leaf("caption", fmt::format("Findings of {}", group.check));
    add_table_head(page);
    explainer why;  // of this table alone, which may be read by itself
    for (const auto& demand : group.demands)
        add_demand(page, demand, layout, why, run.coverage_factor);
    page.close();
    if (group.demands.empty()) page.leaf("p", "Nothing was judged.");
    add_causes(page, causes_of(group, layout));
    if (has_budget(group)) add_budgets(page, group, layout);
    add_plots(page, group, layout, run.coverage_factor);
    add_sounds(page, group, layout);
    page.close();
}

}  // namespace

void add_verdict(markup& page, verdict v) {
    page.open("span", {{"class", fmt::format("badge v-{}", in_words(v))}});
    page.leaf("span", {{"class", "sign"}, {"aria-hidden", "true"}}, sign(v));
    page.text(in_words(v));
    page.close();
}

std::string anchor_of(const check_group& group, const run_layout& layout) {
    return fmt::format("check-{}", &group - layout.checks.data() + 1);
}

void add_checks(markup& page, const run_result& run, const run_layout& layout) {
    for (const auto& group : layout.checks) add_check(page, group, run, layout);
}

}  // namespace cvrig::report
