#include "rig/checks/envelope_plots.hpp"

#include <fmt/format.h>
#include <cmath>

namespace cvrig {

namespace {

double db(double ratio) {
    return 20.0 * std::log10(ratio);
}

series blank(std::string name, series::look drawn) {
    return {.name = std::move(name), .drawn = drawn, .x = {}, .y = {}, .u = {}};
}

void put(series& into, seconds at, double y) {
    into.x.push_back(1e3 * at.value());
    into.y.push_back(y);
}

series gain_points(const std::string& name, std::span<const analysis::gain_point> course,
                   seconds zero) {
    series out = blank(name, series::look::points);
    for (const auto& p : course)
        if (p.gain > 1e-4) put(out, p.at - zero, db(p.gain));
    return out;
}

}  // namespace

plot held_plot(const held_course& held) {
    plot p{.title = "The long note",
           .x_label = "time since the gate / ms",
           .y_label = "amplitude / dB re 1 V",
           .curves = {},
           .bands = {},
           .note = "A decay that is exponential is a straight line here."};
    series heard = blank("heard", series::look::points);
    for (const auto& f : held.frames)
        if (f.fundamental.value() > 0.0) put(heard, f.at, db(f.fundamental.value()));
    p.curves.push_back(std::move(heard));
    if (held.decay) {
        series fit = blank("fitted decay", series::look::line);
        const seconds from{0.1};
        for (const auto& f : held.frames) {
            const double fall = (f.at - from) / held.decay->time_constant;
            put(fit, f.at, db(held.decay->level_at_start.value() * std::exp(-fall)));
        }
        p.curves.push_back(std::move(fit));
    }
    return p;
}

plot release_plot(std::span<const let_go> ends) {
    plot p{.title = "After the gate",
           .x_label = "time since the gate's end / ms",
           .y_label = "level / dB re the held note",
           .curves = {},
           .bands = {},
           .note = "Both releases should fall alike, in a straight line, down to the noise."};
    for (const auto& e : ends) {
        p.curves.push_back(gain_points(e.name, e.course, e.gate_falls));
        if (!e.release) continue;
        series fit = blank(fmt::format("{}, fitted", e.name), series::look::line);
        for (const auto& point : e.course) {
            const double fall = (point.at - e.release->begins) / e.release->time_constant;
            if (fall >= 0.0) put(fit, point.at - e.gate_falls, db(std::exp(-fall)));
        }
        p.curves.push_back(std::move(fit));
    }
    return p;
}

plot second_strike_plot(std::span<const second_strike> strikes) {
    plot p{.title = "Struck again in mid-decay",
           .x_label = "time since the second gate / ms",
           .y_label = "level / dB re the note before",
           .curves = {},
           .bands = {},
           .note = "The level should rise from where the fall has brought it, without a drop."};
    for (std::size_t i = 0; i < strikes.size(); ++i)
        p.curves.push_back(
            gain_points(fmt::format("strike {}", i + 1), strikes[i].course, strikes[i].gate_rises));
    return p;
}

plot closing_plot(const analysis::closing_filter_reading& closing) {
    plot p{.title = "The filter closes",
           .x_label = "time since the gate / ms",
           .y_label = "cutoff above its rest / octaves",
           .curves = {},
           .bands = {},
           .note =
               "Points are the cutoff at single moments, the line is the exponential through all."};
    series heard = blank("heard", series::look::points);
    series fit = blank("fitted", series::look::line);
    const auto& law = closing.closing;
    for (const auto& moment : closing.course) {
        put(heard, moment.at, (moment.cutoff - law.resting).value());
        put(fit, moment.at, law.still_open(moment.at).value());
    }
    p.curves = {std::move(heard), std::move(fit)};
    return p;
}

}  // namespace cvrig
