#include "rig/checks/stereo.hpp"

#include <algorithm>
#include <cmath>

#include "analysis/level.hpp"
#include "analysis/stereo.hpp"
#include "rig/checks/held_note.hpp"
#include "rig/checks/listening.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

std::vector<passage> plan(const check_request& request) {
    return {held_note(request)};
}

void judge_pair(findings& out, const check_request& request, const analysis::stereo_reading& pair,
                const std::string& at, double noise_over_signal) {
    const double u_gain =
        std::hypot(gain_uncertainty(request, 0).value(), gain_uncertainty(request, 1).value());
    out.add("gain difference",
            make_reading(pair.gain_difference.value(), dimension::decibels,
                         {{"bench gain", u_gain}, {"level estimator", pair.u_gain.value()}}, at));
    out.add("delay", make_reading(pair.delay.value(), dimension::seconds,
                                  {{"delay estimator", pair.u_delay.value()}}, at));
    // The bench's own gain error and noise hide any deeper null: it may be worse than read by as
    // much as they are.
    const double k = request.module.coverage_factor;
    const double null_ratio = std::max(to_voltage_ratio(pair.null_depth), 1e-15);
    const double hidden_ratio = std::hypot(u_gain * std::log(10.0) / 20.0, noise_over_signal);
    out.add("null depth",
            make_reading(pair.null_depth.value(), dimension::decibels,
                         {{"bench gain and noise",
                           to_decibels(1.0 + k * hidden_ratio / null_ratio).value() / k}},
                         at));
    const bool same = !pair.inverted;
    const auto* expected = request.wanted.find<word>("polarity", request.choice);
    if (expected != nullptr)
        out.add("polarity", answer{.text = same ? "same" : "inverted",
                                   .probability = 0.999,
                                   .probability_of_expected =
                                       (expected->text == "same") == same ? 0.999 : 0.001,
                                   .at = at});
}

double rms_of_difference(std::span<const double> a, std::span<const double> b) {
    double sum = 0.0;
    const std::size_t n = std::min(a.size(), b.size());
    for (std::size_t i = 0; i < n; ++i) sum += (a[i] - b[i]) * (a[i] - b[i]);
    return std::sqrt(sum / static_cast<double>(n));
}

// One output that is dead, or carries something else, beside one that sounds: no delay can be told,
// but that they differ can.
void judge_unlike(findings& out, const check_request& request, std::span<const double> left,
                  std::span<const double> right, analysis::refusal why, const std::string& at) {
    const volts a = noise_of(left);
    const volts b = noise_of(right);
    constexpr double bench_floor_volts = 1e-6;
    const double u_gain =
        std::hypot(gain_uncertainty(request, 0).value(), gain_uncertainty(request, 1).value());
    const double ratio =
        std::max(b.value(), bench_floor_volts) / std::max(a.value(), bench_floor_volts);
    const double null_ratio = std::max(rms_of_difference(left, right), bench_floor_volts) /
                              std::max(a.value(), bench_floor_volts);
    out.add("gain difference", make_reading(to_decibels(ratio).value(), dimension::decibels,
                                            {{"bench gain", u_gain}}, at));
    out.add("null depth", make_reading(to_decibels(null_ratio).value(), dimension::decibels,
                                       {{"bench gain", u_gain}}, at));
    out.doubt("delay", why, at);
    out.doubt("polarity", why, at);
}

void judge_held(findings& out, const check_request& request, const heard_passage& heard,
                const std::vector<const char*>& keys) {
    const auto left = held_part(heard, 0);
    const auto right = held_part(heard, 1);
    const std::string at = request.module.listen[1] + " against " + request.module.listen[0];
    const auto doubt_all = [&](const auto&... why) {
        for (const char* key : keys) out.doubt(key, why...);
    };
    if (!sounds(heard, 0, left) && !sounds(heard, 1, right))
        return doubt_all("Neither output gives more than it does without a note.");
    const auto pair = analysis::compare_channels(left, right, heard.rate);
    const auto level = analysis::measure_level(left);
    if (pair && level)
        judge_pair(out, request, *pair, at, noise_of(heard.silence[0]) / level->ac_rms);
    else if (!pair && pair.error() != analysis::refusal::not_finite)
        judge_unlike(out, request, left, right, pair.error(), at);
    else
        doubt_all(pair ? level.error() : pair.error(), at);
}

check_result judge_stereo(const check_request& request, std::span<const heard_passage> heard) {
    findings out{request};
    const std::vector<const char*> keys{"gain difference", "delay", "null depth", "polarity"};
    if (heard[0].volts.size() == 2) {
        judge_held(out, request, heard[0], keys);
    } else {
        for (const char* key : keys)
            out.doubt(key, "This check needs exactly two recorded jacks; change `listen`.");
    }
    check_result result;
    result.findings = std::move(out).take();
    return result;
}

}  // namespace

check stereo_check() {
    using form = key_spec::form;
    return {
        .spec = {.name = "stereo",
                 .plays = "one held note, the same as the level check",
                 .reads = "the second output against the first",
                 .keys = {{.name = "note",
                           .kind = form::measure,
                           .unit = dimension::volts,
                           .meaning = "the pitch voltage of the held note"},
                          {.name = "gain difference",
                           .unit = dimension::decibels,
                           .meaning = "the second output is louder by"},
                          {.name = "delay",
                           .unit = dimension::seconds,
                           .meaning = "the second output is later by"},
                          {.name = "null depth",
                           .unit = dimension::decibels,
                           .meaning =
                               "what is left of the difference, relative to the first output, is"},
                          {.name = "polarity",
                           .kind = form::word,
                           .words = {"same", "inverted"},
                           .meaning = "the second output's polarity is"}}},
        .plan = plan,
        .judge = judge_stereo};
}

}  // namespace cvrig
