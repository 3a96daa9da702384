#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rig/diagnosis/evidence.hpp"
#include "rig/diagnosis/tracking_models.hpp"
#include "rig/expectations/baseline_limit.hpp"

namespace cvrig {

namespace {

// A note that does not move keeps the lag of the move before.
double direction_at(std::span<const reading> notes, std::size_t i) {
    for (; i > 0; --i)
        if (*notes[i - 1].where != *notes[i].where)
            return *notes[i].where > *notes[i - 1].where ? 1.0 : -1.0;
    return 1.0;
}

std::vector<stair_point> stair_of(const evidence& e) {
    std::vector<stair_point> out;
    const auto& law = e.module.pitch;
    const auto notes = e.readings("error");
    if (!std::ranges::all_of(notes, [](const reading& r) { return r.where.has_value(); }))
        return out;
    for (std::size_t i = 0; i < notes.size(); ++i) {
        const double v = *notes[i].where;
        out.push_back({.octaves = law.per_volt(volts{v} - law.at).value() / 1200.0,
                       .volts_there = v,
                       .error_cents = notes[i].value,
                       .u_cents = notes[i].standard_uncertainty,
                       .going_up = direction_at(notes, i)});
    }
    return out;
}

double largest(const std::vector<double>& all) {
    double out = 0.0;
    for (const double x : all) out = std::max(out, std::abs(x));
    return out;
}

double voltage_at(const evidence& e, double octaves) {
    const auto& law = e.module.pitch;
    return law.at.value() + octaves * 1200.0 / law.per_volt(volts{1.0}).value();
}

std::string sentence_for(const stair_model& m, const evidence& e) {
    const auto cents = [](double c) { return signed_text(c, dimension::cents); };
    const auto at = [&](double octaves) {
        return show(voltage_at(e, octaves), dimension::volts, 3);
    };
    const auto percent = [](double cents_per_octave) {
        return signed_text(cents_per_octave / 12.0, dimension::percent);
    };
    const auto& n = m.numbers;
    if (m.cause == "pitch offset")
        return fmt::format(
            "Offset only: every note is off by the same {}, whatever its voltage; look at the "
            "stored zero point or the reference pitch, the slope is right.",
            cents(n[0]));
    if (m.cause == "pitch slope")
        return fmt::format(
            "Slope only: the error grows by {} an octave ({}) from the reference; look at the "
            "calibration constants, or at the impedance of whatever feeds the jack (1 kilohm into "
            "100 kilohm loses 1 %).",
            cents(n[0]), percent(n[0]));
    if (m.cause == "offset and slope")
        return fmt::format(
            "Offset ({}) and slope ({} an octave, {}) are both off and nothing else is: the "
            "calibration constants are not this unit's; calibrate, or see that they are read.",
            cents(n[0]), cents(n[1]), percent(n[1]));
    if (m.cause == "hysteresis")
        return fmt::format(
            "Notes reached from below and from above differ by {} throughout: the pitch reading "
            "has hysteresis or a filter that stops short.",
            show(2.0 * std::abs(n[1]), dimension::cents, 3));
    if (m.cause == "drift")
        return fmt::format(
            "The pitch moved by {} in the course of the stair, on the way up as on the way down: "
            "drift, as of a clock or reference that warms up.",
            cents(n[1]));
    if (m.cause == "knee")
        return fmt::format(
            "Right up to {}, then off by {} more an octave: a knee, so a non-linear or overloaded "
            "converter input; no constants can mend it.",
            at(n[2]), cents(n[1]));
    if (m.cause == "jump")
        return fmt::format(
            "From {} on all notes are off by {} more: a jump in the converter or in its table.",
            at(n[2]), cents(n[1]));
    if (m.cause == "top clipped")
        return fmt::format("Above {} the pitch no longer rises: the top of the range is clipped.",
                           at(n[1]));
    if (m.cause == "bottom clipped")
        return fmt::format(
            "Below {} the pitch no longer falls: the bottom of the range is clipped.", at(n[1]));
    if (m.cause == "octave")
        return fmt::format(
            "{:.0f} of {} notes are off by whole octaves ({:+.0f}), the rest is right: an octave "
            "error, as from a wrong table or an overflow.",
            n[0], m.left_cents.size(), n[1]);
    if (m.cause == "old pitch kept")
        return fmt::format(
            "{:.0f} of {} notes sound at the pitch of the note before, the rest is right: gate and "
            "pitch are read in the wrong order or at different times.",
            n[0], m.left_cents.size());
    return fmt::format(
        "All notes lie on steps of {}: the pitch is quantised to steps of the converter or of a "
        "table.",
        show(n[0], dimension::cents, 3));
}

// What may be left of the errors when the cause is taken out.
double bearable_cents(const evidence& e) {
    const auto* allowed = e.allowed("error");
    if (allowed == nullptr || !allowed->upper) return 5.0;
    return allowed->of_baseline ? largest_size(*allowed) : *allowed->upper;
}

std::optional<diagnosis> from_stair(const evidence& e) {
    const auto stair = stair_of(e);
    const auto models = stair_models(stair);
    std::vector<double> errors;
    for (const auto& p : stair) errors.push_back(p.error_cents);
    std::vector<const stair_model*> able;
    for (const auto& m : models) {
        const double left = largest(m.left_cents);
        if (left <= bearable_cents(e) && left <= 0.5 * largest(errors)) able.push_back(&m);
    }
    if (able.empty()) return std::nullopt;
    double lowest = INFINITY;
    for (const auto* m : able) lowest = std::min(lowest, m->price);
    // One that costs hardly more and has fewer numbers is as good.
    constexpr double hardly = 10.0;
    std::erase_if(able, [&](const stair_model* m) { return m->price > lowest + hardly; });
    const stair_model* best = *std::ranges::min_element(able, {}, [](const stair_model* m) {
        return std::pair{m->free_numbers, m->price};
    });
    return diagnosis{best->cause, sentence_for(*best, e)};
}

}  // namespace

std::optional<diagnosis> diagnose_tracking(const evidence& e) {
    if (e.only_failed("settling")) {
        const auto* s = e.worst("settling");
        return diagnosis{
            "pitch read too early",
            fmt::format("Notes are right once they sound, but begin off by up to {}: the pitch "
                        "voltage is read before it has settled, or smoothed.",
                        s == nullptr ? "?" : signed_text(s->value, dimension::cents))};
    }
    return from_stair(e);
}

}  // namespace cvrig
