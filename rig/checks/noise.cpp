#include "rig/checks/noise.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include "analysis/noise_floor.hpp"
#include "analysis/steady_lines.hpp"
#include "rig/checks/held_note.hpp"
#include "rig/checks/listening.hpp"
#include "rig/checks/noise_passages.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

using namespace literals;
using analysis::line_reader;
using analysis::steady_line;

constexpr hertz lowest = 20_Hz;
constexpr hertz highest = 20_kHz;
constexpr std::size_t mains_multiples = 10;
constexpr const char* noise_part = "scatter of the noise, the bench's own in it";
constexpr std::initializer_list<const char*> silent_keys{"floor", "weighted floor", "mains",
                                                         "idle tone"};

constexpr std::initializer_list<const char*> all_keys{"floor", "weighted floor", "mains",
                                                      "idle tone", "bleed"};

struct silence_readings {
    std::vector<reading> flat, weighted, mains, idle;
    bool mains_stands_out{false}, idle_stands_out{false};  ///< in any output
};

reading level_reading(dbu level, decibels u, decibels u_gain, std::string at) {
    return make_reading(level.value(), dimension::dbu,
                        {{"bench gain", u_gain.value()}, {noise_part, u.value()}}, std::move(at));
}

reading line_reading(const steady_line& line, decibels u_gain, std::string at) {
    const auto level = line.level();
    auto out = level_reading(level.level, level.u, u_gain, std::move(at));
    out.where = line.frequency.value();
    return out;
}

std::vector<hertz> mains_of(const check_request& request) {
    const double one = parameter(request, "mains frequency", 0.0);
    if (one > 0.0) return {hertz{one}};
    return {50_Hz, 60_Hz};
}

const steady_line& loudest_of(const std::vector<steady_line>& lines) {
    return *std::ranges::max_element(lines, {}, [](const auto& l) { return l.peak; });
}

// Where it comes from, if the file says how often the firmware works.
std::string name_of_tone(const check_request& request, hertz f) {
    const double block_hz = parameter(request, "block rate", 0.0);
    if (block_hz > 0.0) {
        const double turns = std::round(f.value() / block_hz);
        if (turns >= 1.0 && std::abs(f.value() - turns * block_hz) < 2.0)
            return fmt::format("{:.1f} Hz, {:.0f} times the block rate", f.value(), turns);
    }
    return fmt::format("{:.1f} Hz", f.value());
}

void read_lines(silence_readings& out, const check_request& request, const line_reader& spectrum,
                std::size_t jack, plot& drawn) {
    const auto& at = request.module.listen[jack];
    const decibels u_gain = gain_uncertainty(request, jack);
    std::vector<hertz> left_out;
    std::vector<steady_line> all;
    for (const hertz nominal : mains_of(request))
        for (const auto& line : analysis::mains_lines(spectrum, nominal, mains_multiples)) {
            if (line.stands_out()) left_out.push_back(line.frequency);
            all.push_back(line);
        }
    if (!all.empty()) {
        const auto& worst = loudest_of(all);
        constexpr double places = 1000.0;  // frequencies tried times multiples
        out.mains_stands_out = out.mains_stands_out || worst.stands_out(places);
        out.mains.push_back(
            line_reading(worst, u_gain, fmt::format("{}, {:.2f} Hz", at, worst.frequency.value())));
    }
    const hertz near = spectrum.bin_width() * 6.0;
    if (const auto tone = analysis::loudest_line(spectrum, lowest, highest, left_out, near)) {
        out.idle_stands_out =
            out.idle_stands_out || tone->stands_out(static_cast<double>(spectrum.bins()));
        out.idle.push_back(line_reading(
            *tone, u_gain, fmt::format("{}, {}", at, name_of_tone(request, tone->frequency))));
    }
    series curve{.name = at, .drawn = series::look::line, .x = {}, .y = {}, .u = {}};
    // The highest bin of each twenty-fourth of an octave: a line is seen and the page stays small.
    for (double f = lowest.value(); f < highest.value(); f *= std::exp2(1.0 / 24.0)) {
        double most = 0.0;
        const double end = f * std::exp2(1.0 / 24.0);
        for (auto k = static_cast<std::size_t>(f / spectrum.bin_width().value());
             k < spectrum.bins() && static_cast<double>(k) * spectrum.bin_width().value() < end;
             ++k)
            most = std::max(most, spectrum.power_in_bin(k));
        if (most <= 0.0) continue;
        curve.x.push_back(std::log10(f));
        curve.y.push_back(to_dbu(volts{std::sqrt(most)}).value());
    }
    drawn.curves.push_back(std::move(curve));
}

plot spectrum_plot() {
    return {.title = "What sounds while the gate is low",
            .x_label = "lg (frequency / Hz)",
            .y_label = "level in one bin / dBu",
            .curves = {},
            .bands = {},
            .note =
                "A line that stands out is hum (50 or 60 Hz and multiples) or a whine of the "
                "module's own; the rest is hiss."};
}

// A line that noise could feign is an upper bound: it can prove the demand, but never a fault.
void add_lines(findings& out, const check_request& request, const std::string& key,
               std::span<const reading> all, bool stands_out) {
    const auto* wanted = request.wanted.find<limit>(key, request.choice);
    const bool proves =
        wanted == nullptr || stands_out || std::ranges::all_of(all, [&](const reading& r) {
            return judge(r, *wanted, request.module.coverage_factor) == verdict::pass;
        });
    if (proves) return out.add_worst(key, all);
    out.doubt(key, "No line stands out of the noise, which hides whatever is as weak as demanded.");
}

void judge_silence(findings& out, check_result& result, const check_request& request,
                   const heard_passage& heard) {
    silence_readings all;
    plot drawn = spectrum_plot();
    for (std::size_t jack = 0; jack < heard.volts.size(); ++jack) {
        const auto& at = request.module.listen[jack];
        const auto spectrum = line_reader::of(part_of_step(heard, jack, 1, 0_ms, 0_ms), heard.rate);
        const auto noise =
            spectrum
                ? analysis::noise_in_band(*spectrum, lowest, highest)
                : analysis::outcome<analysis::noise_reading>{analysis::refuse(spectrum.error())};
        if (!noise) {
            for (const char* key : silent_keys) out.doubt(key, noise.error(), at);
            return;
        }
        const decibels u_gain = gain_uncertainty(request, jack);
        all.flat.push_back(level_reading(noise->flat.level(), noise->flat.u(), u_gain, at));
        all.weighted.push_back(
            level_reading(noise->a_weighted.level(), noise->a_weighted.u(), u_gain, at));
        read_lines(all, request, *spectrum, jack, drawn);
    }
    out.add_worst("floor", all.flat);
    out.add_worst("weighted floor", all.weighted);
    add_lines(out, request, "mains", all.mains, all.mains_stands_out);
    add_lines(out, request, "idle tone", all.idle, all.idle_stands_out);
    result.plots.push_back(std::move(drawn));
}

// What was sent, as it was sent: steps begin on whole samples.
std::vector<double> sent_swing(const heard_passage& heard, const swung_jack& jack) {
    std::vector<double> out;
    const std::size_t begin = heard.step_starts[1];
    for (std::size_t step = 1; step < heard.step_starts.size(); ++step) {
        const std::size_t end =
            step + 1 < heard.step_starts.size() ? heard.step_starts[step + 1] : heard.end;
        out.resize(end - begin, step % 2 == 1 ? jack.low.value() : jack.high.value());
    }
    return out;
}

void judge_bleed(findings& out, const check_request& request, std::span<const swung_jack> jacks,
                 std::span<const heard_passage> heard) {
    std::vector<reading> all;
    for (std::size_t i = 0; i < jacks.size(); ++i) {
        const auto sent = sent_swing(heard[i], jacks[i]);
        const auto input = line_reader::of(sent, heard[i].rate);
        for (std::size_t jack = 0; jack < heard[i].volts.size(); ++jack) {
            const auto at = fmt::format("{} into {}", jacks[i].name, request.module.listen[jack]);
            const auto begin = heard[i].step_starts[1];
            const auto output =
                line_reader::of(part(heard[i].volts[jack], begin, heard[i].end), heard[i].rate);
            if (!input || !output)
                return out.doubt("bleed", input ? output.error() : input.error(), at);
            const double sent_peak = std::abs(input->at(swing_pitch));
            const auto heard_level = analysis::level_of_line(
                volts{std::abs(output->at(swing_pitch))}, output->noise_near(swing_pitch));
            const double sent_dbu =
                to_dbu(volts{std::max(sent_peak, 1e-9) / std::numbers::sqrt2}).value();
            all.push_back(make_reading(heard_level.level.value() - sent_dbu, dimension::decibels,
                                       {{"bench gain", gain_uncertainty(request, jack).value()},
                                        {noise_part, heard_level.u.value()}},
                                       at));
        }
    }
    out.add_worst("bleed", all);
}

std::vector<passage> plan(const check_request& request) {
    std::vector<passage> out{held_note(request), silent_passage(request)};
    for (const auto& jack : swung_jacks(request)) out.push_back(swung_passage(request, jack));
    return out;
}

// The silence of an output that is not plugged in says nothing.
std::optional<std::string> dead_output(const check_request& request, const heard_passage& note) {
    for (std::size_t jack = 0; jack < note.volts.size(); ++jack)
        if (!sounds(note, jack, held_part(note, jack)))
            return fmt::format("No note sounds at {}, so its silence says nothing.",
                               request.module.listen[jack]);
    return std::nullopt;
}

check_result judge_noise(const check_request& request, std::span<const heard_passage> heard) {
    findings out{request};
    check_result result;
    if (const auto dead = dead_output(request, heard[0])) {
        for (const char* key : all_keys) out.doubt(key, *dead);
    } else {
        judge_silence(out, result, request, heard[1]);
        judge_bleed(out, request, swung_jacks(request), heard.subspan(2));
    }
    result.findings = std::move(out).take();
    return result;
}

std::vector<key_spec> keys() {
    using form = key_spec::form;
    return {{.name = "note",
             .kind = form::measure,
             .unit = dimension::volts,
             .meaning = "the pitch voltage of the held note that proves every output alive"},
            {.name = "wait",
             .kind = form::measure,
             .unit = dimension::seconds,
             .meaning = "how long after a note its release is surely over"},
            {.name = "mains frequency",
             .kind = form::measure,
             .unit = dimension::hertz,
             .meaning = "the mains frequency; 50 Hz and 60 Hz are both looked for without it"},
            {.name = "block rate",
             .kind = form::measure,
             .unit = dimension::hertz,
             .meaning = "how often the firmware works, to name a tone that it leaves"},
            {.name = "floor",
             .unit = dimension::dbu,
             .meaning = "the noise from 20 Hz to 20 kHz, unweighted, is"},
            {.name = "weighted floor",
             .unit = dimension::dbu,
             .meaning = "the noise from 20 Hz to 20 kHz, A-weighted, is"},
            {.name = "mains",
             .unit = dimension::dbu,
             .meaning = "the loudest line at the mains frequency and its multiples is"},
            {.name = "idle tone",
             .unit = dimension::dbu,
             .meaning = "the loudest other steady tone is"},
            {.name = "bleed",
             .unit = dimension::decibels,
             .meaning = "what a jack that swings leaves in the sound, relative to its swing, is"}};
}

}  // namespace

check noise_check() {
    return {
        .spec = {.name = "noise",
                 .plays =
                     "a held note, the same as the level check, silence, then each jack but the "
                     "gate swinging while the gate is low",
                 .reads = "hiss, hum and whine, and what bleeds into the sound",
                 .keys = keys()},
        .plan = plan,
        .judge = judge_noise};
}

}  // namespace cvrig
