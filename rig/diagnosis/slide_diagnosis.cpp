#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rig/diagnosis/evidence.hpp"

namespace cvrig {

namespace {

constexpr const char* second_of_run = "second slide of a run";

double nominal_of(const evidence& e) {
    const auto* allowed = e.allowed("time constant");
    return allowed == nullptr ? 0.0 : allowed->nominal.value_or(0.0);
}

bool jumps(const reading& r, double nominal_seconds) {
    return r.value < 0.25 * nominal_seconds;
}

bool all_jump(const check_result& r, double nominal_seconds) {
    const auto* f = r.find("time constant");
    return f != nullptr && !f->all.empty() &&
           std::ranges::all_of(f->all, [&](const reading& x) { return jumps(x, nominal_seconds); });
}

std::optional<diagnosis> no_slide_here(const evidence& e, double nominal) {
    if (!all_jump(e.result, nominal)) return std::nullopt;
    for (const auto* other : e.siblings()) {
        if (all_jump(*other, nominal)) continue;
        return diagnosis{"dead in one setting",
                         fmt::format("No step slides with {}, though they do with {}: the slide is "
                                     "not wired into this setting.",
                                     difference_in_words(e.result.choice, other->choice),
                                     difference_in_words(other->choice, e.result.choice))};
    }
    return diagnosis{"no slide", "No step slides at all: look at the slide input and its flag."};
}

std::optional<diagnosis> second_jumps(const evidence& e, double nominal) {
    const auto all = e.readings("time constant");
    const auto second = std::ranges::find(all, second_of_run, &reading::at);
    if (second == all.end() || !jumps(*second, nominal)) return std::nullopt;
    return diagnosis{"second slide jumps",
                     "Single slides slide, the second one of a run jumps: the slide's state is not "
                     "kept or not started again from one tied step to the next."};
}

// Time against interval: a straight line through the single slides.
std::optional<diagnosis> time_by_interval(const evidence& e, double nominal) {
    double shortest = INFINITY, longest = 0.0;
    const reading *small = nullptr, *wide = nullptr;
    for (const auto& r : e.readings("time constant")) {
        if (!r.where) continue;
        const double octaves = std::abs(*r.where);
        if (octaves < shortest) small = &r, shortest = octaves;
        if (octaves > longest) wide = &r, longest = octaves;
    }
    if (small == nullptr || wide == nullptr || longest - shortest < 0.2) return std::nullopt;
    const double apart = wide->value - small->value;
    const double u = std::hypot(wide->standard_uncertainty, small->standard_uncertainty);
    if (std::abs(apart) < 0.05 * nominal || std::abs(apart) < 4.0 * u) return std::nullopt;
    return diagnosis{"slide time by interval",
                     fmt::format("A slide of {:.2f} octaves has {}, one of {:.2f} octaves {}: the "
                                 "time depends on the interval, so the slide moves by a rate and "
                                 "not by a time constant.",
                                 shortest, show(small->value, dimension::seconds, 3), longest,
                                 show(wide->value, dimension::seconds, 3))};
}

std::optional<diagnosis> one_ratio(const evidence& e, double nominal) {
    const auto all = e.readings("time constant");
    if (all.empty() || !e.failed("time constant")) return std::nullopt;
    double sum = 0.0;
    for (const auto& r : all) sum += r.value;
    const double mean = sum / static_cast<double>(all.size());
    for (const auto& r : all)
        if (std::abs(r.value - mean) > 0.05 * mean) return std::nullopt;
    const double ratio = mean / nominal;
    const double binary = std::exp2(std::round(std::log2(ratio)));
    if (binary != 1.0 && std::abs(ratio / binary - 1.0) < 0.05)
        return diagnosis{
            "power of two",
            fmt::format("Every slide takes {:.3g} times its time: close to a power of "
                        "two, so the block size is probably counted twice or left out.",
                        ratio)};
    return diagnosis{"slide time", fmt::format("Every slide takes {:.3g} times its time, whatever "
                                               "the interval: the time constant itself is wrong.",
                                               ratio)};
}

// Arrivals that all lie on the side from which the slide came, by about as much.
std::optional<diagnosis> stops_short(const evidence& e) {
    if (!e.failed("arrival")) return std::nullopt;
    bool all_short = true, all_beyond = true;
    double most = 0.0;
    for (const auto& r : e.readings("arrival")) {
        if (!r.where) return std::nullopt;
        const double short_of = *r.where > 0.0 ? -r.value : r.value;
        all_short = all_short && short_of > 2.0 * r.standard_uncertainty;
        all_beyond = all_beyond && short_of < -2.0 * r.standard_uncertainty;
        most = std::max(most, std::abs(r.value));
    }
    const auto size = show(most, dimension::cents, 3);
    if (all_short)
        return diagnosis{"stops short",
                         fmt::format("Slides up end low and slides down end high, by up to {}: the "
                                     "error alternates with the direction, so a slide never quite "
                                     "arrives (rounding of its steps, or cut off too early).",
                                     size)};
    if (all_beyond)
        return diagnosis{"ends beyond", fmt::format("Slides end beyond their target by up to {}, "
                                                    "upwards as downwards.",
                                                    size)};
    return std::nullopt;
}

bool swings(const evidence& e) {
    const auto* most = e.worst("overshoot");
    const auto* allowed = e.allowed("overshoot");
    return e.failed("overshoot") && !e.failed("shape") && most != nullptr && allowed != nullptr &&
           allowed->upper && most->value > 2.0 * *allowed->upper;
}

std::optional<diagnosis> by_demand(const evidence& e) {
    const auto value = [&](const char* key, dimension d) {
        const auto* r = e.worst(key);
        return r == nullptr ? std::string{"much"} : show(std::abs(r->value), d, 3);
    };
    if (e.failed("shape")) {
        const auto* a = e.answered("shape");
        return diagnosis{"other law",
                         fmt::format("The slide is {}: it is computed on another quantity than the "
                                     "one that the file names.",
                                     a == nullptr ? "of another shape" : a->text)};
    }
    if (e.only_failed("interrupted"))
        return diagnosis{"wrong start after an interruption",
                         fmt::format("Whole slides are right, but one that interrupts another "
                                     "starts {} off the pitch reached: it starts from a stored "
                                     "pitch and not from the present one.",
                                     value("interrupted", dimension::cents))};
    if (e.only_failed("without slide"))
        return diagnosis{"smeared steps",
                         fmt::format("Steps without slide take {} all the same: the pitch jack is "
                                     "smoothed.",
                                     value("without slide", dimension::seconds))};
    if (e.failed("overshoot"))
        return diagnosis{"overshoot",
                         fmt::format("Slides run up to {} beyond their target and come back: the "
                                     "smoothing has a resonance or a second order.",
                                     value("overshoot", dimension::cents))};
    return std::nullopt;
}

}  // namespace

std::optional<diagnosis> diagnose_slide(const evidence& e) {
    const double nominal = nominal_of(e);
    // What swings about its end fits no law, and its times mean nothing.
    if (swings(e)) return by_demand(e);
    if (nominal > 0.0) {
        for (const auto rule : {no_slide_here, second_jumps})
            if (auto found = rule(e, nominal)) return found;
        if (e.failed("time constant")) {
            if (auto found = time_by_interval(e, nominal)) return found;
            if (!e.failed("overshoot") && !e.failed("shape"))
                if (auto found = one_ratio(e, nominal)) return found;
        }
    }
    if (auto found = by_demand(e)) return found;
    return stops_short(e);
}

}  // namespace cvrig
