#include <fmt/format.h>

#include "rig/report/html_parts.hpp"
#include "rig/report/map_columns.hpp"

namespace cvrig::report {

namespace {

void add_gap(markup& page) {
    page.open("span", {{"class", "absent"}});
    page.leaf("span", {{"aria-hidden", "true"}}, "\u00b7");
    page.leaf("span", {{"class", "aloud"}}, "not asked");
    page.close();
}

void add_shared_cell(markup& page, const check_group& group, const run_layout& layout,
                     const std::vector<setting_choice>& shared) {
    page.open("td", {{"class", "others"}});
    bool any = false;
    for (const auto& choice : shared) {
        const auto v = layout.outcome_of(group, choice);
        if (!v) continue;
        page.open("span", {{"class", "other"}});
        add_verdict(page, *v);
        page.text(fmt::format(" {}", layout.label(choice)));
        page.close();
        page.text(" ");
        any = true;
    }
    if (!any) add_gap(page);
    page.close();
}

void add_map_row(markup& page, const check_group& group, const run_layout& layout,
                 const map_columns& columns) {
    page.open("tr");
    page.open("th", {{"scope", "row"}});
    page.open("a", {{"href", fmt::format("#{}", anchor_of(group, layout))}});
    page.text(group.check);
    page.close();
    page.close();
    for (const auto& choice : columns.own) {
        page.open("td");
        if (const auto v = layout.outcome_of(group, choice)) {
            add_verdict(page, *v);
        } else {
            add_gap(page);
        }
        page.close();
    }
    if (!columns.shared.empty()) add_shared_cell(page, group, layout, columns.shared);
    page.close();
}

void add_map_head(markup& page, const run_layout& layout, const map_columns& columns) {
    page.open("thead");
    page.open("tr");
    page.leaf("th", {{"scope", "col"}}, "Check");
    for (const auto& choice : columns.own) {
        page.leaf("th", {{"scope", "col"}}, layout.label(choice));
    }
    if (!columns.shared.empty()) {
        page.leaf("th", {{"scope", "col"}}, columns.own.empty() ? "settings" : "other settings");
    }
    page.close();
    page.close();
}

}  // namespace

void add_map(markup& page, const run_layout& layout) {
    const auto columns = columns_of_map(layout);
    page.open("nav", {{"aria-label", "Checks"}});
    page.leaf("h2", "At a glance");
    page.open("div", {{"class", "scroll"}, {"tabindex", "0"}});
    page.open("table", {{"class", "map"}});
    page.leaf("caption", "The worst verdict of each check in each choice of settings");
    add_map_head(page, layout, columns);
    page.open("tbody");
    for (const auto& group : layout.checks) add_map_row(page, group, layout, columns);
    page.close();
    page.close();
    page.close();
    page.close();
}

}  // namespace cvrig::report
