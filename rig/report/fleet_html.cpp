#include "rig/report/fleet_html.hpp"

#include <fmt/format.h>

#include "rig/report/fleet_story.hpp"
#include "rig/report/html_head.hpp"
#include "rig/report/html_parts.hpp"

namespace cvrig {

namespace {

using report::fleet_story;
using report::fleet_table;
using report::markup;

void add_list(markup& page, std::string_view heading, const std::vector<std::string>& all) {
    if (all.empty()) return;
    page.leaf("h2", heading);
    page.open("ul");
    for (const auto& sentence : all) page.leaf("li", sentence);
    page.close();
}

void add_top(markup& page, const fleet_story& story) {
    page.open("header", {{"class", "top fleet"}});
    page.leaf("p", {{"class", "kind"}}, "Fleet report");
    page.leaf("h1", story.title);
    page.leaf("p", {{"class", "tally"}}, story.circumstances);
    page.close();
}

void add_row(markup& page, const std::vector<std::string>& row) {
    page.open("tr");
    bool first = true;
    for (const auto& cell : row) {
        if (first)
            page.leaf("th", {{"scope", "row"}}, cell);
        else
            page.leaf("td", cell);
        first = false;
    }
    page.close();
}

void add_table(markup& page, const fleet_table& t) {
    page.open("section", {{"class", "fleet-table"}});
    page.leaf("h2", t.title);
    page.open("div", {{"class", "scroll"}, {"tabindex", "0"}});
    page.open("table");
    page.leaf("caption", t.title);
    page.open("thead");
    page.open("tr");
    for (const auto& name : t.head) page.leaf("th", {{"scope", "col"}}, name);
    page.close();
    page.close();
    page.open("tbody");
    for (const auto& row : t.rows) add_row(page, row);
    page.close();
    page.close();
    page.close();
    for (const auto& note : t.notes) page.leaf("p", {{"class", "reads"}}, note);
    page.close();
}

void add_plots(markup& page, const fleet_story& story, const fleet_answer& a) {
    if (story.plots.empty()) return;
    page.open("section", {{"aria-label", "Plots"}});
    page.open("div", {{"class", "plots"}});
    for (const auto& p : story.plots)
        report::add_plot(page, p, fmt::format("{} units", a.chosen.units.size()),
                         a.asked.coverage_factor);
    page.close();
    page.close();
}

void add_footer(markup& page, const std::string& rig_version, const html_assets& assets) {
    page.open("footer");
    page.leaf("p",
              fmt::format("Made by cvrig {}; plots drawn by dygraphs, MIT licence.", rig_version));
    report::add_plot_licence(page, assets.plot_licence);
    page.close();
}

}  // namespace

std::string fleet_page(const fleet_answer& a, const std::string& rig_version,
                       const html_assets& assets) {
    const auto story = report::story_of(a);
    markup page;
    page.trusted("<!DOCTYPE html>");
    page.open("html", {{"lang", "en"}});
    report::add_page_head(page, story.title, assets);
    page.open("body");
    page.leaf("a", {{"class", "skip"}, {"href", "#content"}}, "Skip to the answers");
    add_top(page, story);
    page.open("main", {{"id", "content"}});
    page.open("section", {{"class", "summary"}, {"aria-label", "Answers"}});
    for (const auto& c : story.chapters) add_list(page, c.heading, c.answers);
    add_list(page, "Mind", story.remarks);
    page.close();
    add_plots(page, story, a);
    for (const auto& t : story.tables) add_table(page, t);
    page.close();
    add_footer(page, rig_version, assets);
    report::add_page_scripts(page, assets);
    return page.take() + "\n";
}

}  // namespace cvrig
