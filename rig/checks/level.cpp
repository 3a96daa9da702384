#include "rig/checks/level.hpp"

#include <fmt/format.h>
#include <cmath>

#include "analysis/level.hpp"
#include "rig/checks/held_note.hpp"
#include "rig/checks/listening.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

struct level_readings {
    std::vector<reading> level, peak, dc, clipped, silence;
};

// A silent output has a level all the same: no more than this, which no bench tells from nothing.
constexpr double floor_volts = 1e-6;

reading level_of(double rms_volts, double u_relative, double u_gain_db, std::string at) {
    return make_reading(
        to_dbu(volts{std::max(rms_volts, floor_volts)}).value(), dimension::dbu,
        {{"bench gain", u_gain_db}, {"level estimator", 20.0 / std::log(10.0) * u_relative}},
        std::move(at));
}

// What still sounds when the gate has been low for long enough that the release is over.
void read_silence(level_readings& out, const check_request& request, const heard_passage& heard,
                  std::size_t jack) {
    const auto begin = heard.end + static_cast<std::size_t>(0.035 * heard.rate.value());
    const auto rest = part(heard.volts[jack], begin, heard.volts[jack].size());
    const double relative =
        1.0 / std::sqrt(2.0 * static_cast<double>(std::max<std::size_t>(rest.size(), 1)) / 20.0);
    out.silence.push_back(level_of(noise_of(rest).value(), relative,
                                   gain_uncertainty(request, jack).value(),
                                   request.module.listen[jack]));
}

// A whole number of periods, so that the mean of the tone itself does not pass for a DC offset.
std::span<const double> whole_periods(std::span<const double> record, sample_rate rate,
                                      hertz pitch) {
    const double period = rate.value() / pitch.value();
    const double whole = std::floor(static_cast<double>(record.size()) / period) * period;
    return record.first(static_cast<std::size_t>(whole));
}

// Where in its period the oscillator is when the note is struck is chance, so the first period's
// peak lies anywhere between what it was and what that of the next one was: a rectangular
// distribution (GUM 4.3.7).
double u_phase_volts(std::span<const double> note, sample_rate rate, hertz pitch) {
    const auto period = static_cast<std::size_t>(rate.value() / pitch.value());
    const auto later = note.subspan(std::min(period, note.size()));
    return std::abs((analysis::true_peak(note) - analysis::true_peak(later)).value()) /
           std::sqrt(3.0);
}

void read_jack(level_readings& out, const check_request& request, const heard_passage& heard,
               std::size_t jack, const analysis::level_reading& level, double dc_volts,
               double u_dc_volts) {
    const std::string at = request.module.listen[jack];
    const double u_gain_db = gain_uncertainty(request, jack).value();
    const double u_gain_ratio = u_gain_db * std::log(10.0) / 20.0;
    const double u_rms_db = 20.0 / std::log(10.0) * level.u_rms / level.ac_rms;
    out.level.push_back(make_reading(to_dbu(level.ac_rms).value(), dimension::dbu,
                                     {{"bench gain", u_gain_db}, {"level estimator", u_rms_db}},
                                     at));
    const auto note = held_part(heard, jack);
    const auto highest = analysis::true_peak(note);
    const auto noisy = analysis::noise_in_peak(note, highest, noise_of(heard.silence[jack]));
    const double peak = (highest - noisy.expected).value();
    out.peak.push_back(make_reading(
        peak, dimension::volts,
        {{"bench gain", peak * u_gain_ratio},
         {"noise", noisy.u.value()},
         {"phase of the strike", u_phase_volts(note, heard.rate, held_pitch(request))}},
        at));
    out.dc.push_back(make_reading(
        dc_volts, dimension::volts,
        {{"bench gain", std::abs(dc_volts) * u_gain_ratio}, {"noise", u_dc_volts}}, at));
    out.clipped.push_back(
        make_reading(static_cast<double>(level.clipped_samples), dimension::count, {}, at));
}

struct dc_estimate {
    double volts_value;
    double u;
};

// The mean of a tone is only its DC offset over whole periods; the tone fit knows the pitch.
dc_estimate dc_of(const check_request& request, std::span<const double> note, sample_rate rate) {
    const auto tone = pitch_near(note, rate, held_pitch(request));
    if (tone) {
        const double noise =
            tone->residual_rms.value() / std::sqrt(static_cast<double>(note.size()));
        return {tone->dc.value(), noise};
    }
    const auto level = analysis::measure_level(whole_periods(note, rate, held_pitch(request)));
    return level
               ? dc_estimate{level->dc.value(), std::abs(level->dc.value()) + level->ac_rms.value()}
               : dc_estimate{0.0, 1e9};
}

plot waveform_plot(const check_request& request, const heard_passage& heard) {
    plot p{.title = "The held note, first periods",
           .x_label = "time / ms",
           .y_label = "output / V",
           .curves = {},
           .bands = {},
           .note = {}};
    for (std::size_t jack = 0; jack < heard.volts.size(); ++jack) {
        const auto note = held_part(heard, jack);
        const auto count =
            static_cast<std::size_t>(4.0 * heard.rate.value() / held_pitch(request).value());
        series curve{.name = request.module.listen[jack],
                     .drawn = series::look::line,
                     .x = {},
                     .y = {},
                     .u = {}};
        for (std::size_t i = 0; i < std::min(count, note.size()); i += 2) {
            curve.x.push_back(1e3 * static_cast<double>(i) / heard.rate.value());
            curve.y.push_back(note[i]);
        }
        p.curves.push_back(std::move(curve));
    }
    return p;
}

std::vector<passage> plan(const check_request& request) {
    return {held_note(request)};
}

check_result judge_level(const check_request& request, std::span<const heard_passage> heard) {
    findings out{request};
    level_readings all;
    std::optional<analysis::refusal> refused;
    std::string refused_at;
    for (std::size_t jack = 0; jack < heard[0].volts.size(); ++jack) {
        const auto note = held_part(heard[0], jack);
        const auto level = analysis::measure_level(note);
        read_silence(all, request, heard[0], jack);
        if (!level && level.error() == analysis::refusal::silent) {
            all.level.push_back(level_of(0.0, 0.0, gain_uncertainty(request, jack).value(),
                                         request.module.listen[jack]));
            continue;
        }
        if (!level) {
            refused = level.error();
            refused_at = request.module.listen[jack];
            continue;
        }
        const auto dc = dc_of(request, note, heard[0].rate);
        read_jack(all, request, heard[0], jack, *level, dc.volts_value, dc.u);
    }
    if (refused) {
        for (const char* key : {"level", "peak", "dc offset", "clipped samples", "silence"})
            out.doubt(key, *refused, refused_at);
    } else {
        out.add_worst("level", all.level);
        out.add_worst("peak", all.peak);
        out.add_worst("dc offset", all.dc);
        out.add_worst("clipped samples", all.clipped);
        out.add_worst("silence", all.silence);
    }
    check_result result;
    result.findings = std::move(out).take();
    result.plots.push_back(waveform_plot(request, heard[0]));
    return result;
}

}  // namespace

check level_check() {
    using form = key_spec::form;
    return {.spec = {.name = "level",
                     .plays = "one held note",
                     .reads = "how loud every output is, its DC offset, and clipping",
                     .keys = {{.name = "note",
                               .kind = form::measure,
                               .unit = dimension::volts,
                               .meaning = "the pitch voltage of the held note"},
                              {.name = "level",
                               .unit = dimension::dbu,
                               .meaning = "the level of every output is"},
                              {.name = "peak",
                               .unit = dimension::volts,
                               .meaning = "the largest voltage of every output is"},
                              {.name = "dc offset",
                               .unit = dimension::volts,
                               .meaning = "the mean voltage of every output is"},
                              {.name = "clipped samples",
                               .unit = dimension::count,
                               .meaning = "the number of clipped samples is"},
                              {.name = "silence",
                               .unit = dimension::dbu,
                               .meaning = "what sounds once the gate is low is"}}},
            .plan = plan,
            .judge = judge_level};
}

}  // namespace cvrig
