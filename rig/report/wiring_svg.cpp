#include "rig/report/wiring_svg.hpp"

#include <fmt/format.h>

#include <optional>

#include "rig/report/markup.hpp"
#include "rig/report/text.hpp"
#include "rig/report/wiring_layout.hpp"
#include "rig/report/wiring_words.hpp"

namespace cvrig {

namespace {

using report::lay_out;
using report::markup;
using report::panel_line;
using report::wiring_layout;

constexpr std::size_t colours = 6;
constexpr double margin = 14.0;
constexpr double socket_radius = 10.0;
constexpr std::size_t longest_label = 26;

// The colours keep 3 to 1 against the sheet in both schemes (WCAG 2.1, 1.4.11), and no meaning
// hangs on them: numbers and dashes say the same.
constexpr std::string_view style = R"(
.wiring-svg { --w-ink: #1c2227; --w-soft: #525b63; --w-sheet: #f2f0e9; --w-rule: #b9b4a5;
  --w-c0: #1d5685; --w-c1: #a8231b; --w-c2: #12624a; --w-c3: #7d5100; --w-c4: #6b3fa0; --w-c5: #0b6b74;
  font: 14px system-ui, -apple-system, "Segoe UI", "Noto Sans", "Liberation Sans", sans-serif; }
@media (prefers-color-scheme: dark) { .wiring-svg { --w-ink: #e8e5dd; --w-soft: #a9b1b8; --w-sheet: #1d2327;
  --w-rule: #566069; --w-c0: #8fc3ee; --w-c1: #ff9184; --w-c2: #6fd0ab; --w-c3: #efb955; --w-c4: #c9a6f5;
  --w-c5: #62c9d3; } }
.wiring-panel { fill: var(--w-sheet); stroke: var(--w-rule); }
.wiring-name { fill: var(--w-ink); font-weight: 650; font-size: 16px; }
.wiring-label { fill: var(--w-ink); }
.wiring-soft { fill: var(--w-soft); font-size: 12px; }
.wiring-socket { fill: var(--w-sheet); stroke: var(--w-ink); stroke-width: 1.5; }
.wiring-number { fill: var(--w-ink); font-size: 11px; font-weight: 650; text-anchor: middle; }
.wiring-cable { fill: none; stroke: var(--w-tone); stroke-width: 3; stroke-linecap: round; }
.wiring-arrow { fill: var(--w-tone); }
.wiring-end { text-anchor: end; }
.wiring-k0 { --w-tone: var(--w-c0); } .wiring-k1 { --w-tone: var(--w-c1); } .wiring-k2 { --w-tone: var(--w-c2); }
.wiring-k3 { --w-tone: var(--w-c3); } .wiring-k4 { --w-tone: var(--w-c4); } .wiring-k5 { --w-tone: var(--w-c5); }
)";

std::string number(double v) {
    return fmt::format("{:g}", v);
}

const char* dash_of(std::size_t wire) {
    static constexpr std::array dashes{"none", "11 6", "2 7", "14 6 2 6", "6 6", "14 6 2 6 2 6"};
    return dashes[(wire + wire / colours) % dashes.size()];
}

struct point {
    double x, y;
};

std::optional<point> end_in(const std::vector<panel_line>& lines, double x, std::size_t wire,
                            std::size_t which) {
    std::size_t seen = 0;
    for (const auto& line : lines)
        for (const auto w : line.wires)
            if (w == wire && seen++ == which) return point{x, line.y};
    return std::nullopt;
}

// Both ends of a cable, in the way of its signal.
std::optional<std::pair<point, point>> ends_of(const wiring_layout& at, const wire& w,
                                               std::size_t i) {
    const auto left = end_in(at.left, at.left_edge, i, 0);
    const auto other = w.what == wire::kind::loop_back ? end_in(at.left, at.left_edge, i, 1)
                                                       : end_in(at.right, at.right_edge, i, 0);
    if (!left || !other) return std::nullopt;
    return w.what == wire::kind::listen ? std::pair{*other, *left} : std::pair{*left, *other};
}

// A cable leaves its socket across the gap between the panels.
double bend_of(const wiring_layout& at, point end) {
    const double reach = 0.45 * (at.right_edge - at.left_edge);
    return end.x == at.left_edge ? end.x + reach : end.x - reach;
}

void add_arrow(markup& svg, const wiring_layout& at, point to) {
    const double way = to.x == at.left_edge ? 1.0 : -1.0;
    const double tip = to.x + way * (socket_radius + 1.0);
    const double back = tip + way * 11.0;
    svg.empty("polygon", {{"class", "wiring-arrow"},
                          {"points", fmt::format("{:g},{:g} {:g},{:g} {:g},{:g}", tip, to.y, back,
                                                 to.y - 6.0, back, to.y + 6.0)}});
}

void add_cable(markup& svg, const wiring_layout& at, const wire& w, std::size_t i) {
    const auto ends = ends_of(at, w, i);
    if (!ends) return;
    const auto [from, to] = *ends;
    svg.open("g", {{"class", fmt::format("wiring-k{}", i % colours)}});
    svg.leaf("title", fmt::format("{}: {}", i + 1, report::in_words(w)));
    svg.empty("path",
              {{"class", "wiring-cable"},
               {"stroke-dasharray", dash_of(i)},
               {"d", fmt::format("M{:g} {:g} C{:g} {:g} {:g} {:g} {:g} {:g}", from.x, from.y,
                                 bend_of(at, from), from.y, bend_of(at, to), to.y, to.x, to.y)}});
    if (w.what != wire::kind::console) add_arrow(svg, at, to);
    svg.close();
}

std::string numbers_of(const panel_line& line) {
    std::string out;
    for (const auto w : line.wires) out += fmt::format("{}{}", out.empty() ? "" : "+", w + 1);
    return out;
}

void add_text(markup& svg, std::string_view kind, double x, double y, std::string_view text) {
    svg.leaf("text", {{"class", std::string{kind}}, {"x", number(x)}, {"y", number(y)}}, text);
}

void add_socket(markup& svg, const panel_line& line, double x) {
    svg.empty("circle", {{"class", "wiring-socket"},
                         {"cx", number(x)},
                         {"cy", number(line.y)},
                         {"r", number(socket_radius)}});
    add_text(svg, "wiring-number", x, line.y + 4.0, numbers_of(line));
}

// What a jack takes or gives, under its name, on the module's side only.
std::string carried(const wiring_card& card, const panel_line& line, bool is_module) {
    return is_module ? card.wires[line.wires.front()].carries : std::string{};
}

void add_line(markup& svg, const wiring_card& card, const panel_line& line, double edge,
              bool is_module) {
    const double x = is_module ? edge + 22.0 : edge - 22.0;
    const std::string end = is_module ? "" : " wiring-end";
    if (line.is_caption) return add_text(svg, "wiring-soft" + end, x, line.y + 6.0, line.text);
    const auto below = carried(card, line, is_module);
    add_socket(svg, line, edge);
    add_text(svg, "wiring-label" + end, x, line.y + (below.empty() ? 5.0 : -1.0),
             report::clipped(report::one_line(line.text), longest_label));
    if (!below.empty()) add_text(svg, "wiring-soft" + end, x, line.y + 13.0, below);
}

void add_panel(markup& svg, const wiring_layout& at, bool is_module, std::string_view kind,
               std::string_view name) {
    const double x = is_module ? at.right_edge : margin;
    const double width = is_module ? at.width - margin - at.right_edge : at.left_edge - margin;
    svg.empty("rect", {{"class", "wiring-panel"},
                       {"x", number(x)},
                       {"y", number(margin)},
                       {"width", number(width)},
                       {"height", number(at.height - 2.0 * margin)},
                       {"rx", "8"}});
    const double text_x = is_module ? x + 22.0 : at.left_edge - 22.0;
    const std::string end = is_module ? "" : " wiring-end";
    add_text(svg, "wiring-soft" + end, text_x, 38.0, kind);
    add_text(svg, "wiring-name" + end, text_x, 58.0,
             report::clipped(report::one_line(name), longest_label - 3));
}

std::string described(const wiring_card& card) {
    std::string out;
    for (std::size_t i = 0; i < card.wires.size(); ++i)
        out += fmt::format("{}{}: {}.", i == 0 ? "" : " ", i + 1, report::in_words(card.wires[i]));
    return out;
}

void add_picture(markup& svg, const wiring_card& card) {
    const auto at = lay_out(card);
    svg.open("svg", {{"xmlns", "http://www.w3.org/2000/svg"},
                     {"class", "wiring-svg"},
                     {"viewBox", fmt::format("0 0 {:g} {:g}", at.width, at.height)},
                     {"role", "img"},
                     {"aria-labelledby", "wiring-title wiring-desc"}});
    svg.leaf("title", {{"id", "wiring-title"}},
             fmt::format("Cables of {}", report::wiring_title(card)));
    svg.leaf("desc", {{"id", "wiring-desc"}}, described(card));
    svg.open("style");
    svg.trusted(style);
    svg.close();
    add_panel(svg, at, false, "Interface", card.interface);
    add_panel(svg, at, true, "Module", card.module);
    for (std::size_t i = 0; i < card.wires.size(); ++i) add_cable(svg, at, card.wires[i], i);
    for (const auto& line : at.left) add_line(svg, card, line, at.left_edge, false);
    for (const auto& line : at.right) add_line(svg, card, line, at.right_edge, true);
    svg.close();
}

}  // namespace

std::string wiring_svg(const wiring_card& card) {
    if (!card.has_cables()) return {};
    markup svg;
    add_picture(svg, card);
    return svg.take();
}

}  // namespace cvrig
