#include "rig/checks/range.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "rig/checks/cutoff_stair.hpp"
#include "rig/checks/filter_closing.hpp"
#include "rig/checks/listening.hpp"
#include "rig/checks/range_readings.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

using namespace literals;

// An odd number, so that one is the middle. Played again, a level that stood between two steps of the
// module's converter stands elsewhere.
std::size_t stair_steps(const check_request& request) {
    return 21 + 2 * static_cast<std::size_t>(request.attempt - 1);
}

constexpr std::size_t struck_note = 1;
constexpr const char* cutoff_keys[] = {"smallest cutoff", "largest cutoff", "octaves per volt",
                                       "dead zone"};

constexpr const char* too_few = "Too few cutoffs could be heard.";

bool demands_any(const check_request& request, std::initializer_list<const char*> keys) {
    return std::ranges::any_of(keys, [&](const char* key) {
        return request.wanted.find<limit>(key, request.choice) != nullptr ||
               request.wanted.find<word>(key, request.choice) != nullptr;
    });
}

seconds demanded(const check_request& request, const char* key, seconds otherwise) {
    const auto* wanted = request.wanted.find<limit>(key, request.choice);
    if (wanted == nullptr || !wanted->upper) return otherwise;
    return seconds{*wanted->upper};
}

double longer(const check_request& request) {
    return std::pow(1.5, request.attempt - 1);
}

// After 3.5 time constants 3 % of the envelope is left, whose course is known by then.
seconds wait_of(const check_request& request) {
    const seconds decay = demanded(request, "shortest decay", 0.23_s);
    return std::clamp(3.5 * decay, 0.3_s, 3_s) * longer(request);
}

passage long_decay(const check_request& request) {
    const seconds decay = demanded(request, "longest decay", 2_s);
    const seconds held = std::clamp(0.2 * decay, 0.45_s, 1.2_s) * longer(request);
    passage p = cutoff_stair(request, held, range_of(request, "cutoff").middle(), {}, held);
    p.purpose = "a note whose filter closes as slowly as it can";
    for (auto& s : p.steps) s.others["decay"] = range_of(request, "decay").high;
    return p;
}

std::vector<passage> plan(const check_request& request) {
    const auto range = range_of(request, "cutoff");
    std::vector<passage> out{cutoff_stair(request, wait_of(request), range.middle(),
                                          levels_over(range, stair_steps(request)),
                                          50_ms * longer(request))};
    if (demands_any(request, {"longest decay"})) out.push_back(long_decay(request));
    return out;
}

using heard_closing = analysis::outcome<analysis::closing_filter_reading>;

// Nepers by which the decay moves for each volt at its jack.
double decay_per_volt(const check_request& request, const heard_closing& shortest,
                      const heard_closing& longest) {
    // Where only one end is heard: as wide as such ranges are (common practice, no source).
    constexpr double usual_ratio = 20.0;
    if (request.module.find_jack("decay") == nullptr) return 0.0;
    const auto range = range_of(request, "decay");
    const double ratio = shortest && longest
                             ? longest->closing.time_constant / shortest->closing.time_constant
                             : usual_ratio;
    const volts span = range.high - range.low;
    return span > volts{0.0} ? std::abs(std::log(ratio)) / span.value() : 0.0;
}

void judge_decay(findings& out, const check_request& request, const char* key, const char* at,
                 const heard_closing& heard, double per_volt) {
    if (!heard) return out.doubt(key, heard.error(), at);
    const double tau = time_constant_of(*heard).value();
    auto budget = closing_budget(request, *heard);
    budget.push_back({"bench voltage", tau * per_volt * u_of_jack(request, "decay").value()});
    out.add(key, make_reading(tau, dimension::seconds, std::move(budget), at));
}

void judge_end(findings& out, const check_request& request, const char* key, const stair_step& s,
               const heard_stair& stair) {
    if (s.unread)
        return out.doubt(key, analysis::refusal::no_fit, show(s.at.value(), dimension::volts));
    const auto r = cutoff_reading_of(request, s, stair.steps);
    if (!s.beyond) return out.add(key, r);
    const auto* wanted = request.wanted.find<limit>(key, request.choice);
    if (wanted != nullptr && !wanted->upper) return out.add(key, r);
    out.doubt(key, fmt::format("The cutoff is at least {}: no harmonic above that is heard.",
                               show(r.value, dimension::hertz)));
}

// A fall that was heard is one; but that the cutoff rises always, only a whole stair can tell.
void judge_rising(findings& out, const heard_stair& stair) {
    const auto rising = rising_of(stair.steps);
    if (!rising) return out.doubt("cutoff rises", too_few);
    const auto unread = std::ranges::find_if(stair.steps, &stair_step::unread);
    if (unread == stair.steps.end() || rising->probability_of_expected < 0.5)
        return out.add("cutoff rises", *rising);
    out.doubt("cutoff rises", analysis::refusal::no_fit,
              show(unread->at.value(), dimension::volts));
}

void judge_stair(findings& out, const check_request& request, const heard_stair& stair) {
    judge_end(out, request, "smallest cutoff", stair.steps.front(), stair);
    judge_end(out, request, "largest cutoff", stair.steps.back(), stair);
    if (const auto slope = octaves_per_volt_of(request, stair.steps))
        out.add("octaves per volt", *slope);
    else
        out.doubt("octaves per volt", too_few);
    if (const auto dead = dead_zone_of(stair.steps))
        out.add("dead zone", *dead);
    else
        out.doubt("dead zone", too_few);
    judge_rising(out, stair);
}

// Where the filter closes to is known from the step of the stair on which the other note waited, too:
// there it had come to rest. What the wave makes of it, it makes of the whole fall alike, and counts there.
heard_closing slow_closing(const heard_passage& heard, const heard_stair& stair) {
    constexpr octaves least_u{0.002};
    const auto& rest = stair.steps[stair.steps.size() / 2];
    if (!rest.heard()) return analysis::refuse(analysis::refusal::no_fit);
    const octaves but_for_wave{
        std::hypot(rest.u_envelope().value(), rest.u_moves.value(), rest.u_noise.value())};
    return hear_closing(heard, struck_note, stair.note.pitch,
                        analysis::known_rest{rest.cutoff, std::max(least_u, but_for_wave)});
}

void judge_decays(findings& out, const check_request& request, std::span<const heard_passage> heard,
                  const heard_stair& stair) {
    const bool slow_too = heard.size() > 1;
    const heard_closing slow = slow_too
                                   ? slow_closing(heard[1], stair)
                                   : heard_closing{analysis::refuse(analysis::refusal::silent)};
    const double per_volt = decay_per_volt(request, stair.closing, slow);
    judge_decay(out, request, "shortest decay", "the decay CV at its lowest", stair.closing,
                per_volt);
    if (slow_too)
        judge_decay(out, request, "longest decay", "the decay CV at its highest", slow, per_volt);
}

plot stair_plot(const heard_stair& stair) {
    plot p{.title = "Cutoff over its CV",
           .x_label = "jack cutoff / V",
           .y_label = "cutoff / octaves above 1 Hz",
           .curves = {},
           .bands = {},
           .note = "A straight line is as many octaves per volt everywhere."};
    series points{.name = "heard", .drawn = series::look::points, .x = {}, .y = {}, .u = {}};
    for (const auto& s : stair.steps) {
        if (s.unread) continue;
        points.x.push_back(s.at.value());
        points.y.push_back(s.cutoff.value());
        points.u.push_back(s.u_cutoff.value());
    }
    p.curves.push_back(std::move(points));
    return p;
}

void doubt_stair(findings& out, analysis::refusal why) {
    for (const char* key : cutoff_keys) out.doubt(key, why, "the held note");
    out.doubt("cutoff rises", why, "the held note");
    out.doubt("shortest decay", why, "the held note");
    out.doubt("longest decay", why, "the held note");
}

check_result judge_range(const check_request& request, std::span<const heard_passage> heard) {
    findings out{request};
    check_result result;
    const auto stair = hear_stair(request, heard[0]);
    if (!stair) {
        doubt_stair(out, stair.error());
    } else {
        judge_stair(out, request, *stair);
        judge_decays(out, request, heard, *stair);
        result.plots.push_back(stair_plot(*stair));
    }
    result.findings = std::move(out).take();
    return result;
}

}  // namespace

check range_check() {
    using form = key_spec::form;
    return {
        .spec = {.name = "range",
                 .plays = "a low sawtooth while the cutoff CV goes up in steps, and once with the "
                          "longest decay",
                 .reads = "how far jacks cutoff and decay reach",
                 .keys = {{.name = "note",
                           .kind = form::measure,
                           .unit = dimension::volts,
                           .meaning = "the pitch voltage of the held sawtooth, a low one"},
                          {.name = "smallest cutoff",
                           .unit = dimension::hertz,
                           .meaning = "the 3 dB cutoff with the CV at its lowest is"},
                          {.name = "largest cutoff",
                           .unit = dimension::hertz,
                           .meaning = "the 3 dB cutoff with the CV at its highest is"},
                          {.name = "octaves per volt",
                           .unit = dimension::ratio,
                           .meaning = "the cutoff moves, in octaves for each volt, by"},
                          {.name = "cutoff rises",
                           .kind = form::word,
                           .words = {"always"},
                           .meaning = "the cutoff rises whenever its CV does, and so never falls"},
                          {.name = "dead zone",
                           .unit = dimension::percent,
                           .meaning = "the part of the CV range in which nothing moves is"},
                          {.name = "shortest decay",
                           .unit = dimension::seconds,
                           .meaning = "the filter's time constant with the decay CV at its lowest "
                                      "is"},
                          {.name = "longest decay",
                           .unit = dimension::seconds,
                           .meaning = "the filter's time constant with the decay CV at its highest "
                                      "is"}}},
        .plan = plan,
        .judge = judge_range};
}

}  // namespace cvrig
