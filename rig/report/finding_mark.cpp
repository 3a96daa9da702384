#include "rig/report/finding_mark.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rig/report/phrases.hpp"

namespace cvrig::report {

namespace {

constexpr double wide = 200.0, high = 28.0, top = 9.0, bottom = 19.0, middle = 14.0;

/// The piece of the number line that is drawn.
struct window {
    double from, to;

    [[nodiscard]] double at(double value) const {
        return std::clamp((value - from) / (to - from), 0.0, 1.0) * wide;
    }
    [[nodiscard]] bool holds(double value) const { return from <= value && value <= to; }
};

std::string number(double x) {
    return fmt::format("{:.1f}", x);
}

/// Wide enough for the interval and the whisker; a reading far away does not shrink the interval
/// to nothing, it is drawn as an arrow at the edge.
window window_for(const limit& l, double value, double expanded) {
    const double low = l.lower.value_or(*l.upper), up = l.upper.value_or(low);
    double span = up - low;
    if (span <= 0.0) {
        span = std::max({std::abs(value - low) + expanded, 3.0 * expanded, 0.1 * std::abs(low)});
    }
    if (span <= 0.0) span = 1.0;
    const double furthest = 1.2 * span;
    const double from = std::max(std::min(low, value - expanded), low - furthest);
    const double to = std::min(std::max(up, value + expanded), up + furthest);
    return {from - 0.15 * span, to + 0.15 * span};
}

void add_bar(markup& page, std::string_view look, double from, double to) {
    if (to <= from) return;
    page.empty("rect", {{"class", std::string{look}},
                        {"x", number(from)},
                        {"y", number(top)},
                        {"width", number(to - from)},
                        {"height", number(bottom - top)}});
}

void add_line(markup& page, std::string_view look, double x1, double y1, double x2, double y2) {
    page.empty("line", {{"class", std::string{look}},
                        {"x1", number(x1)},
                        {"y1", number(y1)},
                        {"x2", number(x2)},
                        {"y2", number(y2)}});
}

/// Permitted values, a guard band on both sides of each limit, and the nominal value.
void add_interval(markup& page, const limit& l, const window& w, double expanded) {
    const double from = l.lower ? w.at(*l.lower) : 0.0, to = l.upper ? w.at(*l.upper) : wide;
    add_bar(page, "allowed", from, to);
    for (const auto& end : {l.lower, l.upper}) {
        if (!end) continue;
        add_bar(page, "guard", w.at(*end - expanded), w.at(*end + expanded));
        add_line(page, "limit", w.at(*end), top - 4.0, w.at(*end), bottom + 4.0);
    }
    if (l.nominal) add_line(page, "nominal", w.at(*l.nominal), top, w.at(*l.nominal), bottom);
}

void add_reading(markup& page, verdict v, double value, double expanded, const window& w) {
    const auto look = fmt::format("reading v-{}", in_words(v));
    if (!w.holds(value)) {
        const double tip = value < w.from ? 1.0 : wide - 1.0,
                     tail = value < w.from ? 10.0 : wide - 10.0;
        page.empty("path", {{"class", look + " arrow"},
                            {"d", fmt::format("M{:.1f} {:.1f}L{:.1f} {:.1f}L{:.1f} {:.1f}Z", tip,
                                              middle, tail, middle - 6.0, tail, middle + 6.0)}});
        return;
    }
    add_line(page, look, w.at(value - expanded), middle, w.at(value + expanded), middle);
    add_line(page, look + " tick", w.at(value), top - 5.0, w.at(value), bottom + 5.0);
}

void open_drawing(markup& page, const std::string& said) {
    page.open("svg", {{"class", "mark"},
                      {"viewBox", fmt::format("0 0 {:.0f} {:.0f}", wide, high)},
                      {"preserveAspectRatio", "xMinYMid"},
                      {"role", "img"},
                      {"aria-label", said}});
}

void add_odds(markup& page, const finding& f) {
    const double odds = std::clamp(f.answered->probability_of_expected, 0.0, 1.0);
    open_drawing(page, fmt::format("odds of the expected answer: {}", odds_text(odds)));
    page.empty("rect", {{"class", "track"},
                        {"x", "0.5"},
                        {"y", number(top)},
                        {"width", number(wide - 1.0)},
                        {"height", number(bottom - top)}});
    add_bar(page, fmt::format("odds v-{}", in_words(f.outcome)), 0.5, 0.5 + odds * (wide - 1.0));
    add_line(page, "nominal", wide / 2, top - 3.0, wide / 2, bottom + 3.0);
    page.close();
}

}  // namespace

void add_mark(markup& page, const finding& f, double coverage_factor) {
    if (f.answered && std::isfinite(f.answered->probability_of_expected)) {
        add_odds(page, f);
        return;
    }
    if (!f.measured || !f.allowed || (!f.allowed->lower && !f.allowed->upper)) return;
    const double value = f.measured->value;
    const double expanded = coverage_factor * f.measured->standard_uncertainty;
    if (!std::isfinite(value) || !std::isfinite(expanded)) return;
    const auto w = window_for(*f.allowed, value, expanded);
    open_drawing(page, fmt::format("{}, demanded {}: {}", reading_text(f, coverage_factor),
                                   demand_text(f), in_words(f.outcome)));
    add_interval(page, *f.allowed, w, expanded);
    add_reading(page, f.outcome, value, expanded, w);
    page.close();
}

}  // namespace cvrig::report
