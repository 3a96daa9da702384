#include <fmt/format.h>

#include "rig/report/markup.hpp"
#include "rig/report/wiring_svg.hpp"
#include "rig/report/wiring_words.hpp"

namespace cvrig {

namespace {

using report::markup;

constexpr std::string_view style = R"(
:root { color-scheme: light dark; --paper: #fbfaf6; --ink: #1c2227; --soft: #525b63; --rule: #d5d1c5; }
@media (prefers-color-scheme: dark) { :root { --paper: #14181b; --ink: #e8e5dd; --soft: #a9b1b8; --rule: #384148; } }
body { margin: 0 auto; padding: 1.5rem clamp(1rem, 4vw, 3rem) 3rem; max-width: 54rem; background: var(--paper);
  color: var(--ink); font: 1rem/1.5 system-ui, -apple-system, "Segoe UI", "Noto Sans", "Liberation Sans", sans-serif;
  overflow-wrap: anywhere; }
h1 { font-size: 1.45rem; } h2 { font-size: 1.1rem; margin: 1.8rem 0 .5rem; }
svg { width: 100%; height: auto; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; padding: .35rem .8rem .35rem 0; border-bottom: 1px solid var(--rule); }
thead th { font-size: .85rem; color: var(--soft); }
li { margin-bottom: .35rem; }
)";

void add_table(markup& page, const wiring_card& card) {
    page.open("table");
    page.leaf("caption", "The same as a table");
    page.open("thead");
    page.open("tr");
    for (const auto* name : {"Cable", "From", "To", "Carries"})
        page.leaf("th", {{"scope", "col"}}, name);
    page.close();
    page.close();
    page.open("tbody");
    for (std::size_t i = 0; i < card.wires.size(); ++i) {
        const auto& w = card.wires[i];
        page.open("tr");
        page.leaf("th", {{"scope", "row"}}, fmt::format("{}", i + 1));
        page.leaf("td", report::from_in_words(w));
        page.leaf("td", report::to_in_words(w));
        page.leaf("td", w.carries);
        page.close();
    }
    page.close();
    page.close();
}

void add_list(markup& page, std::string_view heading, const std::vector<std::string>& all) {
    if (all.empty()) return;
    page.leaf("h2", heading);
    page.open("ul");
    for (const auto& sentence : all) page.leaf("li", sentence);
    page.close();
}

}  // namespace

std::string wiring_page(const wiring_card& card) {
    markup page;
    page.trusted("<!DOCTYPE html>");
    page.open("html", {{"lang", "en"}});
    page.open("head");
    page.empty("meta", {{"charset", "utf-8"}});
    page.empty("meta", {{"name", "viewport"}, {"content", "width=device-width, initial-scale=1"}});
    page.leaf("title", fmt::format("Cables of {}", report::wiring_title(card)));
    page.open("style");
    page.trusted(style);
    page.close();
    page.close();
    page.open("body");
    page.leaf("h1", fmt::format("Cables of {}", report::wiring_title(card)));
    page.trusted(wiring_svg(card));
    if (card.has_cables()) add_table(page, card);
    add_list(page, "Notes", card.notes);
    add_list(page, "Mind", card.cautions);
    return page.take() + "\n";
}

}  // namespace cvrig
