#include "rig/expectations/baseline_limit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "analysis/units.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

using scale = baseline_demand::scale;

/// The three forms: how each begins and ends, and what it limits.
struct baseline_form {
    std::string_view begins, ends;
    bool above, below;
};
constexpr baseline_form forms[]{{"within ", " of baseline", true, true},
                                {"at most ", " above baseline", true, false},
                                {"at most ", " below baseline", false, true}};

/// The tolerance alone; empty if `text` has another form.
std::optional<std::string_view> tolerance_in(std::string_view text, const baseline_form& form) {
    if (!text.starts_with(form.begins) || !text.ends_with(form.ends)) return std::nullopt;
    if (text.size() <= form.begins.size() + form.ends.size()) return std::nullopt;
    text.remove_prefix(form.begins.size());
    text.remove_suffix(form.ends.size());
    return text;
}

/// Levels differ by decibels, whatever they refer to.
dimension of_difference(dimension unit) {
    return unit == dimension::dbu ? dimension::decibels : unit;
}

parsed<baseline_demand> demand_of(std::string_view text, std::string_view tolerance,
                                  const wanted& want) {
    baseline_demand out;
    const auto t = parse_measure(tolerance);
    if (t && t->unit == dimension::percent && want.unit != dimension::percent) {
        if (want.unit == dimension::decibels)
            return tl::unexpected{
                fmt::format("{} takes a percentage of a level in dB, which means nothing; give the "
                            "tolerance in dB.",
                            quoted(text))};
        out.in = scale::of_percent;
        out.tolerance = t->in_base_unit;
        return out;
    }
    if (t && t->unit == dimension::cents && want.unit == dimension::hertz) {
        out.in = scale::of_cents;
        out.tolerance = t->in_base_unit;
        return out;
    }
    return parse_quantity(tolerance, want).map([&](double v) {
        out.tolerance = v;
        return out;
    });
}

/// What a demand leaves on one side of a reading; empty if there is no such limit.
std::optional<double> side(const baseline_demand& d, double reading, double sign) {
    switch (d.in) {
        case scale::of_unit:
            return reading + sign * d.tolerance;
        case scale::of_percent:
            if (reading == 0.0) return std::nullopt;
            return reading + sign * std::abs(reading) * d.tolerance / 100.0;
        case scale::of_cents:
            if (!(reading > 0.0)) return std::nullopt;
            return raised(hertz{reading}, cents{sign * d.tolerance}).value();
    }
    return std::nullopt;
}

/// A reading with as many digits as its uncertainty leaves it.
std::string as_surely(double reading, double standard_uncertainty, dimension unit) {
    if (!(standard_uncertainty > 0.0)) return show(reading, unit);
    const auto both = show(reading, standard_uncertainty, unit);
    return both.substr(0, both.find(" \u00B1"));
}

parsed<limit> read_as(const baseline_form& form, const std::string& text,
                      std::string_view tolerance, dimension unit, std::string_view key) {
    const auto apart = of_difference(unit);
    const wanted want{apart, key, fmt::format("within {} of baseline", example_quantity(apart))};
    auto demand = demand_of(text, tolerance, want);
    if (!demand) return tl::unexpected{demand.error()};
    demand->limits_above = form.above;
    demand->limits_below = form.below;
    const bool both = form.above && form.below;
    if (both ? demand->tolerance > 0.0 : demand->tolerance >= 0.0)
        return limit{{}, {}, {}, unit, text, *demand};
    return tl::unexpected{
        fmt::format("{} needs a tolerance {}.", quoted(text), both ? "above 0" : "from 0 up")};
}

}  // namespace

std::optional<limit_sides> sides_about(double reading, const baseline_demand& demand) {
    const auto upper = side(demand, reading, 1.0);
    const auto lower = side(demand, reading, -1.0);
    if (!upper || !lower) return std::nullopt;
    return limit_sides{demand.limits_below ? lower : std::nullopt,
                       demand.limits_above ? upper : std::nullopt};
}

double largest_size(const limit& l) noexcept {
    return std::max(std::abs(l.lower.value_or(0.0)), std::abs(l.upper.value_or(0.0)));
}

std::string in_words(const baseline_demand& demand, dimension unit) {
    const auto apart = demand.in == scale::of_percent ? dimension::percent
                       : demand.in == scale::of_cents ? dimension::cents
                                                      : of_difference(unit);
    const auto tolerance = show(demand.tolerance, apart);
    if (!demand.limits_below)
        return fmt::format("at most that of the baseline and {} more", tolerance);
    if (!demand.limits_above)
        return fmt::format("at least that of the baseline less {}", tolerance);
    return fmt::format("that of the baseline, give or take {}", tolerance);
}

std::optional<parsed<limit>> parse_baseline_limit(std::string_view raw, dimension unit,
                                                  std::string_view key) {
    const auto text = squeezed(raw);
    if (text.find("baseline") == std::string::npos) return std::nullopt;
    for (const auto& form : forms)
        if (const auto tolerance = tolerance_in(text, form))
            return read_as(form, text, *tolerance, unit, key);
    return parsed<limit>{tl::unexpected{
        fmt::format("{} does not say how the baseline limits the reading (one of: within X of "
                    "baseline, at most X above baseline, at most X below baseline).",
                    quoted(text))}};
}

limit resolved(const limit& demanded, double reading, double standard_uncertainty,
               std::string_view from) {
    if (!demanded.of_baseline || !std::isfinite(reading) || !std::isfinite(standard_uncertainty))
        return demanded;
    auto out = demanded;
    auto& demand = *out.of_baseline;
    const auto sides = sides_about(reading, demand);
    if (!sides) return demanded;
    out.lower = sides->lower;
    out.upper = sides->upper;
    out.nominal = reading;
    demand.standard_uncertainty = standard_uncertainty;
    out.text = fmt::format("{} ({}, {})", demanded.text,
                           as_surely(reading, standard_uncertainty, demanded.unit), from);
    return out;
}

}  // namespace cvrig
