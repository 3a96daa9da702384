#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "rig/bench/self_test_examiner.hpp"
#include "rig/bench/self_test_limits.hpp"
#include "rig/run/judging.hpp"

// What a self-test finds without looking at the sequence: the stream, and all channels at rest.
namespace cvrig {

namespace {

namespace limits = self_test_limits;

estimate in_dbu(const estimate& rms_volts) {
    constexpr double least = 1e-7;  // far below any converter; digital silence has no level
    const double rms = std::max(rms_volts.value, least);
    // Upwards, where the limit lies: a level that is next to nothing may be nothing.
    return {to_dbu(volts{rms}).value(), to_decibels(1.0 + rms_volts.u / rms).value()};
}

// Where the interface's time is its own, what the driver and the clock say means nothing.
bool counts_for_simulated(const stream_event& e) {
    return e.what == stream_event::kind::starved || e.what == stream_event::kind::vanished;
}

}  // namespace

void examiner::look_at_stream() {
    const bool own_time = bench_.audio && bench_.audio->simulated;
    std::vector<stream_event> events;
    for (const auto& e : heard_.events)
        if (!own_time || counts_for_simulated(e)) events.push_back(e);
    add("stream", make_reading(static_cast<double>(events.size()), dimension::count, {}),
        at_most(0.0, dimension::count),
        events.empty() ? "" : event_sentence(events.front(), rate_));
    if (own_time || heard_.frames_per_second <= 0.0) return;
    const double scale = 100.0 / rate_.value();
    const estimate e{scale * heard_.frames_per_second - 100.0, scale * heard_.u_frames_per_second};
    add("sample rate", one_part(e, dimension::percent, "timing of the callbacks"),
        within(0.0, limits::rate_percent, dimension::percent),
        fmt::format("The interface runs at {:.0f} samples a second instead of {:.0f}: its rate is "
                    "set otherwise or the computer does not keep up; set the rate in the "
                    "interface's own panel, or use larger blocks.",
                    heard_.frames_per_second, rate_.value()));
}

// Of noise and hum that are both too loud, the lesser is left out: it cannot be read well.
void examiner::look_at_loop_rest() {
    loop_rest_ = measure_rest(at_rest(heard_.loop), rate_);
    const auto where = loop_input_of(*bench_.loop);
    const auto other = loop_rest_.other_rms_volts();
    const auto hum = loop_rest_.mains_rms_volts;
    const auto noise_finding = make_finding(
        "noise", one_part(in_dbu(other), dimension::dbu, "scatter of the noise"),
        at_most(limits::noise.value(), dimension::dbu), noise_sentence(where, volts{other.value}));
    const auto hum_finding =
        make_finding("mains hum", one_part(hum, dimension::volts, "scatter of the noise"),
                     at_most(limits::mains_rms.value(), dimension::volts),
                     mains_sentence(where, volts{hum.value}, loop_rest_.mains_hz));
    quiet_ = noise_finding.ok && hum_finding.ok;
    const bool both = !noise_finding.ok && !hum_finding.ok;
    if (!both || other.value >= hum.value) out_.findings.push_back(noise_finding);
    if (!both || hum.value > other.value) out_.findings.push_back(hum_finding);
}

void examiner::look_at_rest() {
    if (bench_.loop) look_at_loop_rest();
    for (std::size_t i = 0; i < heard_.inputs.size() && i < bench_.inputs.size(); ++i) {
        const auto rest = measure_rest(at_rest(heard_.inputs[i]), rate_);
        const auto where =
            fmt::format("{} ({})", socket_of(bench_.inputs[i]), bench_.inputs[i].jack);
        const bool is_hum = rest.mains_rms_volts.value > rest.other_rms_volts().value;
        input_is_quiet_.push_back(to_dbu(volts{std::max(rest.rms_volts.value, 1e-7)}) <=
                                  limits::input_at_rest);
        add("rest of " + bench_.inputs[i].jack,
            one_part(in_dbu(rest.rms_volts), dimension::dbu, "scatter of the noise"),
            at_most(limits::input_at_rest.value(), dimension::dbu),
            is_hum ? mains_sentence(where, volts{rest.mains_rms_volts.value}, rest.mains_hz)
                   : fmt::format("{} carries {} rms of sound while the module rests: take foreign "
                                 "channels out of the mixer, check that cable, and close the "
                                 "module's own gates and drones.",
                                 where, show(rest.rms_volts.value, dimension::volts, 2)));
    }
}

}  // namespace cvrig
