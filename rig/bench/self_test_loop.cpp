#include <fmt/format.h>
#include <cmath>

#include "rig/bench/self_test_examiner.hpp"
#include "rig/bench/self_test_limits.hpp"
#include "rig/run/judging.hpp"

// What the known sequence says that came back through the loop-back cable.
namespace cvrig {

namespace limits = self_test_limits;

// Something came back, and only while the sequence was played, but it is not what was played.
bool examiner::garbled() const {
    const auto x = part_of(heard_.loop, static_cast<std::ptrdiff_t>(sent_.sequence.from),
                           sent_.sequence.samples);
    return !x.empty() && measure_rest(x, rate_).rms_volts.value > 0.2 * bench_.loop->level.value();
}

// Where the sequence went instead.
void examiner::say_why_no_loop() {
    const auto& l = *bench_.loop;
    std::string sentence = fmt::format(
        "Nothing that {} plays comes back at {}: plug in the loop-back cable, or correct the "
        "channel numbers in the bench file.",
        loop_output_of(l), loop_input_of(l));
    if (garbled())
        sentence = fmt::format(
            "What comes back at {} while {} plays is not what it plays: the interface and the "
            "sound system disagree about the sample rate, an effect is on, or another program "
            "plays there; set both to {}, switch effects off and end other programs.",
            loop_input_of(l), loop_output_of(l), show(rate_.value(), dimension::hertz));
    for (std::size_t i = 0; i < heard_.inputs.size() && i < bench_.inputs.size(); ++i) {
        const auto x = part_of(heard_.inputs[i], static_cast<std::ptrdiff_t>(sent_.sequence.from),
                               heard_.inputs[i].size());
        const auto found = analysis::read_loop(x, l.level.value(), sent_.sequence.samples,
                                               self_test_stimulus::loop_first);
        if (found && std::abs(found->gain) > 0.1)
            sentence = fmt::format(
                "What {} plays arrives at {} ({}) instead of {}: the loop-back cable is in the "
                "wrong socket; exchange the plugs.",
                loop_output_of(l), socket_of(bench_.inputs[i]), bench_.inputs[i].jack,
                loop_input_of(l));
    }
    add("loop-back", make_reading(0.0, dimension::count, {}), at_least(1.0, dimension::count),
        sentence);
}

// How many samples are missing (negative: too many) between the sequence and the closing one; empty
// if the latter is not to be found, or not whole.
std::optional<std::ptrdiff_t> examiner::lost_after_sequence() const {
    const auto read = analysis::read_loop(
        part_of(heard_.loop, static_cast<std::ptrdiff_t>(sent_.closing.from), heard_.loop.size()),
        bench_.loop->level.value(), sent_.closing.samples, self_test_stimulus::closing_first);
    if (!read) return std::nullopt;
    const auto apart = static_cast<double>(sent_.closing.from - sent_.sequence.from);
    const double expected = loop_->latency_samples + apart * loop_->rate_error;
    const auto lost = std::lround(expected - read->latency_samples);
    // One that came too early lacks its beginning.
    if (lost == 0 && !read->breaks.empty()) return std::nullopt;
    return lost;
}

void examiner::look_at_whole_samples() {
    auto broken = loop_->breaks.size();
    auto sentence = samples_sentence(*loop_, sent_.sequence.from, rate_);
    // With two clocks or too long a latency the closing sequence lies elsewhere anyway; beneath noise
    // it cannot be read.
    const bool readable = quiet_ && 100 * std::abs(loop_->rate_error) <= limits::drift_percent &&
                          loop_->latency_samples <= limits::longest_latency.value() * rate_.value();
    if (broken == 0 && readable) {
        const auto lost = lost_after_sequence();
        if (lost != 0) {
            ++broken;
            sentence = later_samples_sentence(lost, sent_.sequence.end(), sent_.closing, rate_);
        }
    }
    whole_ = broken == 0;
    add("whole samples", make_reading(static_cast<double>(broken), dimension::count, {}),
        at_most(0.0, dimension::count), sentence);
}

void examiner::look_at_loop() {
    const auto from = static_cast<std::ptrdiff_t>(sent_.sequence.from);
    const auto read = analysis::read_loop(part_of(heard_.loop, from, heard_.loop.size()),
                                          bench_.loop->level.value(), sent_.sequence.samples,
                                          self_test_stimulus::loop_first);
    if (!read || std::abs(read->gain) < 0.01) return say_why_no_loop();
    loop_ = *read;
    add("loop-back", make_reading(1.0, dimension::count, {}), at_least(1.0, dimension::count), "");
    look_at_whole_samples();
    add("one clock",
        one_part({100 * loop_->rate_error, 100 * loop_->u_rate_error}, dimension::percent,
                 "scatter of the latency"),
        within(0.0, limits::drift_percent, dimension::percent),
        clock_sentence(loop_->rate_error, rate_));
    const estimate latency{loop_->latency_samples / rate_.value(),
                           loop_->u_latency_samples / rate_.value()};
    add("latency", one_part(latency, dimension::seconds, "scatter of the latency"),
        at_most(limits::longest_latency.value(), dimension::seconds),
        fmt::format("The sound comes back only after {}: shorten the driver's buffers.",
                    show(latency.value, dimension::seconds, 3)));
    out_.latency = seconds{latency.value};
    out_.u_latency = seconds{latency.u};
    add("polarity", make_reading(loop_->gain < 0.0 ? -1.0 : 1.0, dimension::ratio, {}),
        at_least(0.0, dimension::ratio),
        fmt::format("The loop-back comes back inverted: {} or {} turns the polarity; give its "
                    "'full scale' in the bench file a minus sign, or change the cable.",
                    loop_output_of(*bench_.loop), loop_input_of(*bench_.loop)));
}

}  // namespace cvrig
