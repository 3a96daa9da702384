#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "rig/report/html_parts.hpp"
#include "rig/report/phrases.hpp"

namespace cvrig::report {

namespace {

using json = nlohmann::ordered_json;

constexpr std::size_t most_rows = 200;

/// Points that can be drawn; broken ones are left out.
std::vector<std::size_t> drawable(const series& s) {
    std::vector<std::size_t> kept;
    for (std::size_t i = 0; i < std::min(s.x.size(), s.y.size()); ++i) {
        if (std::isfinite(s.x[i]) && std::isfinite(s.y[i])) kept.push_back(i);
    }
    std::stable_sort(kept.begin(), kept.end(),
                     [&](std::size_t a, std::size_t b) { return s.x[a] < s.x[b]; });
    return kept;
}

double uncertainty_at(const series& s, std::size_t i) {
    return i < s.u.size() && std::isfinite(s.u[i]) ? s.u[i] : 0.0;
}

json curve_data(const series& s, double coverage_factor) {
    json x = json::array(), y = json::array(), expanded = json::array();
    for (const auto i : drawable(s)) {
        x.push_back(s.x[i]);
        y.push_back(s.y[i]);
        if (!s.u.empty()) expanded.push_back(coverage_factor * uncertainty_at(s, i));
    }
    return {{"line", s.drawn == series::look::line}, {"x", x}, {"y", y}, {"U", expanded}};
}

/// Numbers only: names stay in the page's own text, where they are escaped.
std::string plot_data(const plot& p, double coverage_factor) {
    json curves = json::array(), bands = json::array();
    for (const auto& s : p.curves) curves.push_back(curve_data(s, coverage_factor));
    for (const auto& b : p.bands) {
        const auto end = [](const std::optional<double>& v) {
            return v && std::isfinite(*v) ? json(*v) : json(nullptr);
        };
        bands.push_back({end(b.lower), end(b.upper)});
    }
    return script_safe(json{{"curves", curves}, {"bands", bands}}.dump());
}

void add_legend(markup& page, const plot& p) {
    page.open("ul", {{"class", "legend"}});
    std::size_t n = 0;
    for (const auto& s : p.curves) {
        const bool line = s.drawn == series::look::line;
        page.open("li");
        page.leaf("span",
                  {{"class", fmt::format("key {} c{}", line ? "line" : "points", n++ % 6)},
                   {"aria-hidden", "true"}},
                  "");
        page.text(s.name);
        page.close();
    }
    for (const auto& b : p.bands) {
        page.open("li");
        page.leaf("span", {{"class", "key band"}, {"aria-hidden", "true"}}, "");
        page.text(b.name);
        page.close();
    }
    page.close();
}

void add_rows(markup& page, const series& s, double coverage_factor) {
    const auto kept = drawable(s);
    const std::size_t step = kept.size() / most_rows + 1;
    for (std::size_t k = 0; k < kept.size(); k += step) {
        const auto i = kept[k];
        page.open("tr");
        page.leaf("th", {{"scope", "row"}}, s.name);
        page.leaf("td", show(s.x[i], dimension::ratio, 6));
        page.leaf("td", show(s.y[i], dimension::ratio, 6));
        page.leaf("td", s.u.empty()
                            ? ""
                            : show(coverage_factor * uncertainty_at(s, i), dimension::ratio, 2));
        page.close();
    }
}

/// The plot in numbers: for who reads without scripts, by ear or on paper. Open until a script
/// takes over.
void add_data_table(markup& page, const plot& p, double coverage_factor) {
    page.open("details", {{"class", "data"}, {"open", ""}});
    page.leaf("summary", "The same in numbers");
    page.open("div", {{"class", "scroll"}, {"tabindex", "0"}});
    page.open("table");
    page.leaf("caption", fmt::format("{}; at most {} points a curve, all are in the JSON report",
                                     p.title, most_rows));
    page.open("thead");
    page.open("tr");
    page.leaf("th", {{"scope", "col"}}, "Curve");
    page.leaf("th", {{"scope", "col"}}, p.x_label);
    page.leaf("th", {{"scope", "col"}}, p.y_label);
    page.leaf("th", {{"scope", "col"}}, "± U");
    page.close();
    page.close();
    page.open("tbody");
    for (const auto& s : p.curves) add_rows(page, s, coverage_factor);
    page.close();
    page.close();
    page.close();
    page.close();
}

}  // namespace

void add_plot(markup& page, const plot& p, const std::string& choice, double coverage_factor) {
    page.open("figure", {{"class", "plot"}});
    page.open("figcaption");
    page.leaf("b", p.title);
    page.text(" ");
    page.leaf("span", {{"class", "choice"}}, choice);
    if (!p.note.empty()) page.leaf("p", p.note);
    page.close();
    add_legend(page, p);
    page.open("div", {{"class", "chart"}});
    page.leaf("p", {{"class", "axis"}}, p.y_label);
    page.leaf("div",
              {{"class", "canvas"},
               {"role", "img"},
               {"aria-label",
                fmt::format("{}, {}: {} against {}", p.title, choice, p.y_label, p.x_label)}},
              "");
    page.leaf("p", {{"class", "axis x"}}, p.x_label);
    page.open("p", {{"class", "tools"}});
    page.leaf("output", {{"class", "readout"}}, "");
    page.leaf("span", {{"class", "hint"}}, "Drag to zoom, shift-drag to move");
    page.leaf("button", {{"type", "button"}, {"class", "reset"}, {"disabled", ""}}, "Reset zoom");
    page.close();
    page.close();
    page.open("script", {{"type", "application/json"}});
    page.trusted(plot_data(p, coverage_factor));
    page.close();
    add_data_table(page, p, coverage_factor);
    page.close();
}

void add_plots(markup& page, const check_group& group, const run_layout& layout,
               double coverage_factor) {
    page.open("div", {{"class", "plots"}});
    for (const auto* result : group.results) {
        for (const auto& p : result->plots) {
            add_plot(page, p, layout.label(result->choice), coverage_factor);
        }
    }
    page.close();
}

}  // namespace cvrig::report
