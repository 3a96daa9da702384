#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "analysis/loop_response.hpp"
#include "rig/bench/self_test_examiner.hpp"
#include "rig/bench/self_test_limits.hpp"
#include "rig/run/judging.hpp"

// What the way through the loop-back cable does to levels and spectra, and what gets in from beside.
namespace cvrig {

namespace {

namespace limits = self_test_limits;

// Of trims that share a meter, what the second has beyond the first (GUM 5.2.2, full correlation of
// the common part).
std::vector<analysis::contribution> budget_of(const loop_back& l, double u_noise, double u_output,
                                              double u_input) {
    if (!l.trimmed_as_one || u_output < u_input)
        return {{"noise of the levels", u_noise},
                {"trim of the output", u_output},
                {"trim of the input", u_input}};
    return {{"noise of the levels", u_noise},
            {"trims, without the meter that they share",
             std::sqrt(u_output * u_output - u_input * u_input)}};
}

}  // namespace

void examiner::look_at_levels() {
    const auto& l = *bench_.loop;
    const auto droop =
        measure_droop_per_second(heard_.loop, sent_.gate, lag(), rate_, loop_rest_.mean);
    const estimate falls = droop.value_or(estimate{INFINITY, 0.0});
    const bool steady = std::abs(falls.value) * 100.0 <= limits::droop_percent_a_second;
    if (droop)
        add("droop in a second",
            one_part({100 * falls.value, 100 * falls.u}, dimension::percent,
                     "noise of the held level"),
            within(0.0, limits::droop_percent_a_second, dimension::percent),
            droop_sentence(l, falls.value));
    if (!steady) return;
    const auto stair = measure_stair(heard_.loop, sent_.stair, lag(), rate_, loop_rest_);
    if (!stair) return;
    add("straightness", one_part(stair->departure_volts, dimension::volts, "noise of the levels"),
        at_most(limits::departure_at_1_volt.value() * std::max(1.0, l.level.value()),
                dimension::volts),
        stair_sentence(l, *stair));
    // A bent line has no one slope.
    if (!out_.findings.back().ok && !stair->cut_off) return;
    const double magnitude = std::abs(stair->gain.value);
    const auto relative_u_percent = [](const channel_trim& t) {
        return 100 * t.u_volts_per_full_scale / std::abs(t.volts_per_full_scale);
    };
    add("gain",
        make_reading(100 * magnitude, dimension::percent,
                     budget_of(l, 100 * stair->gain.u, relative_u_percent(l.output_trim),
                               relative_u_percent(l.input_trim))),
        within(100.0, limits::gain_percent, dimension::percent), gain_sentence(l, magnitude));
    add("offset",
        make_reading(stair->offset_volts.value, dimension::volts,
                     budget_of(l, stair->offset_volts.u, l.output_trim.u_offset.value(),
                               l.input_trim.u_offset.value())),
        within(0.0, limits::offset.value(), dimension::volts),
        fmt::format("0 V from {} reads {} at {}: the interface has an offset that the trim does "
                    "not know; run `cvrig trim` again after it has warmed up.",
                    loop_output_of(l), show(stair->offset_volts.value, dimension::volts, 3),
                    loop_input_of(l)));
}

void examiner::look_at_bandwidth() {
    const auto s = sequence();
    const auto x =
        part_of(heard_.loop, static_cast<std::ptrdiff_t>(sent_.sequence.from) + lag(), s.size());
    const auto width = analysis::measure_loop_bandwidth(std::span{s}.first(x.size()), x);
    if (!width) return;
    // Half of the smoothing.
    const estimate e{*width * rate_.value(), 0.001 * rate_.value()};
    add("bandwidth", one_part(e, dimension::hertz, "resolution"),
        at_least(limits::bandwidth_of_rate * rate_.value(), dimension::hertz),
        fmt::format("The loop-back carries nothing above {}, too little for {}: a resampler or a "
                    "filter is in the way and rings on gates; switch resampling and equalisers "
                    "off and run the whole sound system at {}.",
                    show(e.value, dimension::hertz, 3), show(rate_.value(), dimension::hertz),
                    show(rate_.value(), dimension::hertz)));
}

void examiner::look_at_crosstalk_into_inputs() {
    const auto& l = *bench_.loop;
    const auto s = sequence();
    for (std::size_t i = 0; i < input_is_quiet_.size(); ++i) {
        if (!input_is_quiet_[i]) continue;
        const auto x = part_of(heard_.inputs[i],
                               static_cast<std::ptrdiff_t>(sent_.sequence.from) + lag(), s.size());
        const auto leak = analysis::measure_leak(x, s, l.level.value());
        if (!leak) continue;
        const estimate e{100 * leak->ratio, 100 * leak->u_ratio};
        add("crosstalk into " + bench_.inputs[i].jack,
            one_part(e, dimension::percent, "noise of the input"),
            at_most(limits::crosstalk_percent, dimension::percent),
            fmt::format("{:.2f} % of what {} plays is heard at {} ({}): a mixer adds it, or the "
                        "cables lie too close; take the channel out of the mixer and part the "
                        "cables.",
                        e.value, loop_output_of(l), socket_of(bench_.inputs[i]),
                        bench_.inputs[i].jack));
    }
}

void examiner::look_at_crosstalk_from_outputs() {
    const auto& l = *bench_.loop;
    const auto skip = static_cast<std::ptrdiff_t>(std::lround(0.02 * rate_.value()));
    for (std::size_t i = 0; i < sent_.output_sequences.size(); ++i) {
        const auto& part = sent_.output_sequences[i];
        if (part.samples == 0) continue;
        const auto what = analysis::loop_sequence(
            part.samples - static_cast<std::size_t>(skip),
            self_test_stimulus::output_first(i) + static_cast<std::size_t>(skip));
        const auto x = part_of(heard_.loop, static_cast<std::ptrdiff_t>(part.from) + skip + lag(),
                               what.size());
        const auto leak = analysis::measure_leak(x, what, sent_.output_amplitudes[i].value());
        if (!leak) continue;
        const estimate e{100 * leak->ratio, 100 * leak->u_ratio};
        mixed_ = mixed_ || e.value > limits::mixed_percent;
        const auto cause = e.value > limits::mixed_percent
                               ? "a mixer adds the channels together; send each channel to its own "
                                 "output only"
                               : "the cables lie too close or share a ground; part the cables";
        add("crosstalk from " + bench_.outputs[i].jack,
            one_part(e, dimension::percent, "noise of the loop-back"),
            at_most(limits::crosstalk_percent, dimension::percent),
            fmt::format("{:.2f} % of what {} ({}) plays is heard at {}: {}.", e.value,
                        socket_of(bench_.outputs[i]), bench_.outputs[i].jack, loop_input_of(l),
                        cause));
    }
}

}  // namespace cvrig
