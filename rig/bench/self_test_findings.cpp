#include "rig/bench/self_test_findings.hpp"

#include <fmt/format.h>
#include <cmath>
#include <string_view>

#include "analysis/uncertainty.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

constexpr double coverage = 2.0;

std::string numbered(const std::string& printed, const char* kind, std::size_t channel) {
    return printed.empty() ? fmt::format("{} {}", kind, channel) : printed;
}

bool near(double value, double target, double part) {
    return std::abs(value - target) <= part * target;
}

std::string seconds_at(std::size_t sample, sample_rate rate) {
    return show(static_cast<double>(sample) / rate.value(), dimension::seconds, 4);
}

std::string slip_in_words(std::ptrdiff_t lost_samples) {
    const auto n = std::abs(lost_samples);
    return fmt::format("{} {} {}", n, n == 1 ? "sample was" : "samples were",
                       lost_samples > 0 ? "lost" : "repeated or put in");
}

constexpr std::string_view advice_on_slips =
    "the computer does not keep up or a plug is loose; use larger blocks, end other programs, and "
    "push the plugs in.";

}  // namespace

limit at_most(double most, dimension unit) {
    return {std::nullopt, most, std::nullopt, unit, "at most " + show(most, unit)};
}

limit at_least(double least, dimension unit) {
    return {least, std::nullopt, std::nullopt, unit, "at least " + show(least, unit)};
}

limit within(double nominal, double tolerance, dimension unit) {
    const auto text = nominal == 0.0
                          ? fmt::format("within {}", show(tolerance, unit))
                          : fmt::format("{} within {}", show(nominal, unit), show(tolerance, unit));
    return {nominal - tolerance, nominal + tolerance, nominal, unit, text};
}

bench_finding make_finding(const std::string& name, const reading& measured, const limit& allowed,
                           const std::string& sentence) {
    bench_finding out{name, measured, allowed, false, {}};
    const auto decided = analysis::decide(measured.value, measured.standard_uncertainty, coverage,
                                          {allowed.lower, allowed.upper});
    out.ok = decided && *decided == analysis::decision::inside;
    if (out.ok) return out;
    const bool beyond = (allowed.upper && measured.value > *allowed.upper) ||
                        (allowed.lower && measured.value < *allowed.lower);
    out.sentence =
        beyond ? sentence
               : fmt::format(
                     "The {} reads {} and is too uncertain to be proven {}; look for "
                     "noise or a loose plug.",
                     name, show(measured.value, measured.standard_uncertainty, measured.unit),
                     allowed.text);
    return out;
}

reading one_part(const estimate& e, dimension unit, const std::string& part) {
    return make_reading(e.value, unit, {{part, e.u}});
}

std::string socket_of(const bench_output& o) {
    return numbered(o.socket, "output", o.channel);
}
std::string socket_of(const bench_input& i) {
    return numbered(i.socket, "input", i.channel);
}
std::string loop_output_of(const loop_back& l) {
    return numbered(l.output_socket, "output", l.output_channel);
}
std::string loop_input_of(const loop_back& l) {
    return numbered(l.input_socket, "input", l.input_channel);
}

std::string gain_sentence(const loop_back& l, double gain) {
    const auto where = fmt::format("from {} to {}", loop_output_of(l), loop_input_of(l));
    if (near(gain, 0.5, 0.06))
        return fmt::format(
            "Only half the voltage arrives ({:.2f} %) {}: the cold leg of a balanced output is "
            "shorted or a control stands at -6 dB; use a cable that leaves the ring open, or turn "
            "the control fully up.",
            100 * gain, where);
    if (near(gain, 10.0, 0.05) || near(gain, 0.1, 0.05))
        return fmt::format(
            "The voltage arrives {} {}: something scales by ten; correct 'full scale' in the bench "
            "file, or the host's scaling.",
            gain > 1.0 ? "tenfold" : "at a tenth", where);
    return fmt::format(
        "The gain is {:.2f} % instead of 100 % {}: a software volume or a level control is not at "
        "its full mark, or the trim is out of date; set all volumes to 100 % or run `cvrig trim` "
        "again.",
        100 * gain, where);
}

std::string droop_sentence(const loop_back& l, double falls_per_second) {
    return fmt::format(
        "A held level falls with a time constant of {}: {} or {} is AC-coupled and cannot carry a "
        "steady voltage; use a DC-coupled output and input.",
        show(1.0 / std::abs(falls_per_second), dimension::seconds, 3), loop_output_of(l),
        loop_input_of(l));
}

std::string stair_sentence(const loop_back& l, const stair_levels& stair) {
    if (stair.cut_off)
        return fmt::format(
            "{} is cut off at {}: its input clips; turn its sensitivity down or lower the "
            "loop-back's 'level'.",
            loop_input_of(l), show(stair.reached_volts, dimension::volts, 3));
    return fmt::format(
        "Levels from {} to {} do not lie on a straight line (worst at {}): switch off limiters, "
        "loudness and effects in the sound system, and turn the input's sensitivity down.",
        loop_output_of(l), loop_input_of(l), show(stair.worst_level, dimension::volts, 3));
}

std::string samples_sentence(const analysis::loop_reading& loop, std::size_t begins_at,
                             sample_rate rate) {
    if (loop.breaks.empty()) return {};
    const auto& b = loop.breaks.front();
    const auto when = seconds_at(b.at_sample + begins_at, rate);
    const auto more = loop.breaks.size() > 1 ? fmt::format(", and {} more", loop.breaks.size() - 1)
                                             : std::string{};
    const auto what =
        b.lost_samples != 0
            ? slip_in_words(b.lost_samples)
            : fmt::format("{} samples were not readable (disturbed, lost or repeated)",
                          b.unreadable_samples);
    return fmt::format("{} at {}{}: {}", what, when, more, advice_on_slips);
}

std::string later_samples_sentence(std::optional<std::ptrdiff_t> lost_samples, std::size_t from,
                                   const test_part& closing, sample_rate rate) {
    if (!lost_samples)
        return fmt::format("What was sent from {} on did not come back whole: {}",
                           seconds_at(closing.from, rate), advice_on_slips);
    return fmt::format("{} between {} and {}: {}", slip_in_words(*lost_samples),
                       seconds_at(from, rate), seconds_at(closing.from, rate), advice_on_slips);
}

std::string clock_sentence(double rate_error, sample_rate rate) {
    const double ppm = 1e6 * rate_error;
    if (std::abs(ppm) > 1000.0)
        return fmt::format(
            "Recording runs at {:.4f} of the rate of playing ({} is set): the interface and the "
            "sound system disagree about the sample rate; set both to one rate.",
            1.0 / (1.0 - rate_error), show(rate.value(), dimension::hertz));
    return fmt::format(
        "The latency drifts by {:.1f} ppm: playing and recording have two clocks, or a resampler "
        "ties them; use one device for both and switch resampling off.",
        ppm);
}

std::string noise_sentence(const std::string& where, volts rms) {
    return fmt::format(
        "{} carries {} rms of foreign sound or noise while nothing is played: end other programs "
        "that play, take foreign channels out of the mixer, and check that cable.",
        where, show(rms.value(), dimension::volts, 2));
}

std::string mains_sentence(const std::string& where, volts rms, double hertz_at) {
    return fmt::format(
        "{} carries {} rms of mains hum ({:.0f} Hz): look for a ground loop or a cable beside a "
        "power supply; power computer, interface and case from one outlet.",
        where, show(rms.value(), dimension::volts, 2), hertz_at);
}

std::string event_sentence(const stream_event& e, sample_rate rate) {
    const auto when = seconds_at(e.frame, rate);
    switch (e.what) {
        case stream_event::kind::underrun:
            return fmt::format("The driver ran out of output at {}; use larger blocks.", when);
        case stream_event::kind::overrun:
            return fmt::format("The driver lost input at {}; use larger blocks.", when);
        case stream_event::kind::rate_changed:
            return fmt::format("The interface changed its rate to {} at {}; set it to {}.",
                               show(e.size, dimension::hertz), when,
                               show(rate.value(), dimension::hertz));
        case stream_event::kind::vanished:
            return fmt::format("The interface vanished at {}; check its cable and its server.",
                               when);
        default:
            return fmt::format(
                "The stream stood still at {}; use larger blocks or end other programs.", when);
    }
}

std::vector<std::string> unproven_without_loop() {
    return {
        "Without a loop-back cable, lost or repeated samples that the driver does not report go "
        "unseen.",
        "Without a loop-back cable, a software volume, a wrong trim or a cold leg that is shorted "
        "would look like a wrong scale of the module.",
        "Without a loop-back cable, a coupling capacitor in an output would look like a drifting "
        "pitch.",
        "Without a loop-back cable, a resampler or two clocks would look like a wrong pitch.",
        "Without a loop-back cable, a mixer that adds other channels to an output goes unseen.",
        "Without a loop-back cable, the latency is what the bench file says or the patch check "
        "finds.",
    };
}

}  // namespace cvrig
