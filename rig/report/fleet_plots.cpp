#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "rig/report/fleet_story.hpp"

namespace cvrig::report {

namespace {

/// Every unit's error at every voltage with one default, and the median of them.
plot errors_with(const fleet_answer& a, const default_choice& d) {
    plot p{.title = fmt::format("Pitch error with the default {}", in_words(d.kind)),
           .x_label = "pitch voltage / V",
           .y_label = "error / cent",
           .curves = {},
           .bands = {{fmt::format("within {}", show(a.asked.limit_cents, dimension::cents)),
                      -a.asked.limit_cents, a.asked.limit_cents}},
           .note = "Each point is one note of one unit."};
    series notes{.name = "units", .drawn = series::look::points, .x = {}, .y = {}, .u = {}};
    std::map<long long, std::vector<double>> levels;
    for (const auto& u : a.chosen.units)
        for (const auto& n : u.notes) {
            const double error =
                d.change.error_after(n.at_volts, n.error_cents, a.chosen.volts_per_octave);
            notes.x.push_back(n.at_volts);
            notes.y.push_back(error);
            levels[std::llround(n.at_volts * 1e6)].push_back(error);
        }
    series middle{.name = "median unit", .drawn = series::look::line, .x = {}, .y = {}, .u = {}};
    for (auto& [microvolts, errors] : levels) {
        middle.x.push_back(static_cast<double>(microvolts) * 1e-6);
        middle.y.push_back(median_of(std::move(errors)));
    }
    p.curves = {std::move(notes), std::move(middle)};
    return p;
}

std::vector<double> sorted_worst(const default_choice& d) {
    std::vector<double> out;
    for (const auto& w : d.worst_unseen.empty() ? d.worst : d.worst_unseen)
        out.push_back(std::abs(w.error_cents));
    std::ranges::sort(out);
    return out;
}

/// A step up at each unit's worst error, and on at the top until `end`.
series share_within(const default_choice& d, double end) {
    series s{.name = std::string{in_words(d.kind)},
             .drawn = series::look::line,
             .x = {0.0},
             .y = {0.0},
             .u = {}};
    const auto worst = sorted_worst(d);
    const double percent = 100.0 / static_cast<double>(worst.size());
    for (std::size_t i = 0; i < worst.size(); ++i)
        for (const auto step : {i, i + 1}) {
            s.x.push_back(worst[i]);
            s.y.push_back(percent * static_cast<double>(step));
        }
    s.x.push_back(end);
    s.y.push_back(100.0);
    return s;
}

/// Which share of units any limit would let pass.
plot shares(const fleet_answer& a) {
    plot p{.title = "Share of units within a limit",
           .x_label = "limit / cent",
           .y_label = "share / %",
           .curves = {},
           .bands = {},
           .note = "Each unit judged with the default that the others alone would choose."};
    double end = a.asked.limit_cents;
    for (const auto& d : a.defaults) end = std::max(end, sorted_worst(d).back());
    for (const auto& d : a.defaults) p.curves.push_back(share_within(d, 1.05 * end));
    return p;
}

bool is_odd(const fleet_answer& a, const std::string& unit) {
    return std::ranges::find(a.odd.outliers, unit, &outlier::unit) != a.odd.outliers.end();
}

plot gain_and_offset(const fleet_answer& a) {
    plot p{.title = "Gain and offset of each unit",
           .x_label = "gain error / cent an octave",
           .y_label =
               fmt::format("offset at {} / cent", show(a.chosen.reference_volts, dimension::volts)),
           .curves = {},
           .bands = {},
           .note = "A cloud of two parts, or one point alone, is no normal distribution."};
    series plain{.name = "units", .drawn = series::look::points, .x = {}, .y = {}, .u = {}};
    series odd{.name = "odd units", .drawn = series::look::points, .x = {}, .y = {}, .u = {}};
    for (const auto& u : a.chosen.units) {
        auto& s = is_odd(a, u.name) ? odd : plain;
        s.x.push_back(u.traits.gain.cents);
        s.y.push_back(u.traits.offset.cents);
    }
    for (auto* s : {&plain, &odd})
        if (!s->x.empty()) p.curves.push_back(std::move(*s));
    return p;
}

}  // namespace

std::vector<plot> plots_of(const fleet_answer& a) {
    std::vector<plot> out;
    if (a.defaults.empty()) return out;
    out.push_back(shares(a));
    out.push_back(gain_and_offset(a));
    for (const auto& d : a.defaults) out.push_back(errors_with(a, d));
    return out;
}

}  // namespace cvrig::report
