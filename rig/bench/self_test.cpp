#include "rig/bench/self_test.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "analysis/loop_response.hpp"
#include "analysis/loop_sequence.hpp"
#include "rig/bench/self_test_findings.hpp"
#include "rig/bench/self_test_levels.hpp"
#include "rig/bench/self_test_limits.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

namespace limits = self_test_limits;
using samples_view = std::span<const float>;

samples_view part_of(samples_view x, std::ptrdiff_t from, std::size_t count) {
    if (from < 0 || static_cast<std::size_t>(from) >= x.size()) return {};
    const auto first = static_cast<std::size_t>(from);
    return x.subspan(first, std::min(count, x.size() - first));
}

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

class examiner {
public:
    examiner(const bench& b, const self_test_stimulus& sent, const volts_in& heard)
        : bench_{b}, sent_{sent}, heard_{heard}, rate_{b.rate()} {}

    bench_proof examine() &&;

private:
    void look_at_stream();
    void look_at_loop_rest();
    void look_at_rest();
    void look_at_loop();
    void look_at_levels();
    void look_at_bandwidth();
    void look_at_crosstalk_into_inputs();
    void look_at_crosstalk_from_outputs();
    void say_why_no_loop();
    void add(const std::string& name, const reading& r, const limit& allowed,
             const std::string& sentence);
    [[nodiscard]] samples_view at_rest(samples_view x) const;
    [[nodiscard]] std::vector<float> sequence() const;
    [[nodiscard]] std::ptrdiff_t lag() const;

    const bench& bench_;
    const self_test_stimulus& sent_;
    const volts_in& heard_;
    sample_rate rate_;
    std::optional<analysis::loop_reading> loop_;
    rest_levels loop_rest_;
    bool quiet_{true};
    bool mixed_{false};
    std::vector<bool> input_is_quiet_;
    bench_proof out_;
};

void examiner::add(const std::string& name, const reading& r, const limit& allowed,
                   const std::string& sentence) {
    out_.findings.push_back(make_finding(name, r, allowed, sentence));
}

samples_view examiner::at_rest(samples_view x) const {
    // Outputs that moved before the exchange have settled after 20 ms.
    const auto skip = static_cast<std::size_t>(std::lround(0.02 * rate_.value()));
    return part_of(x, static_cast<std::ptrdiff_t>(sent_.rest.from + skip),
                   sent_.rest.samples - skip);
}

std::vector<float> examiner::sequence() const {
    return analysis::loop_sequence(sent_.sequence.samples, self_test_stimulus::loop_first);
}

std::ptrdiff_t examiner::lag() const {
    return static_cast<std::ptrdiff_t>(std::lround(loop_->latency_samples));
}

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

// Where the sequence went instead.
void examiner::say_why_no_loop() {
    const auto& l = *bench_.loop;
    std::string sentence = fmt::format(
        "Nothing that {} plays comes back at {}: plug in the loop-back cable, or correct the "
        "channel numbers in the bench file.",
        loop_output_of(l), loop_input_of(l));
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

void examiner::look_at_loop() {
    const auto from = static_cast<std::ptrdiff_t>(sent_.sequence.from);
    const auto read = analysis::read_loop(part_of(heard_.loop, from, heard_.loop.size()),
                                          bench_.loop->level.value(), sent_.sequence.samples,
                                          self_test_stimulus::loop_first);
    if (!read || std::abs(read->gain) < 0.01) return say_why_no_loop();
    loop_ = *read;
    add("loop-back", make_reading(1.0, dimension::count, {}), at_least(1.0, dimension::count), "");
    add("whole samples",
        make_reading(static_cast<double>(loop_->breaks.size()), dimension::count, {}),
        at_most(0.0, dimension::count), samples_sentence(*loop_, sent_.sequence.from, rate_));
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
    add("gain",
        make_reading(100 * magnitude, dimension::percent,
                     {{"noise of the levels", 100 * stair->gain.u},
                      {"trim of the output", 100 * l.output_trim.u_volts_per_full_scale /
                                                 std::abs(l.output_trim.volts_per_full_scale)},
                      {"trim of the input", 100 * l.input_trim.u_volts_per_full_scale /
                                                std::abs(l.input_trim.volts_per_full_scale)}}),
        within(100.0, limits::gain_percent, dimension::percent), gain_sentence(l, magnitude));
    add("offset",
        make_reading(stair->offset_volts.value, dimension::volts,
                     {{"noise of the levels", stair->offset_volts.u},
                      {"trim of the output", l.output_trim.u_offset.value()},
                      {"trim of the input", l.input_trim.u_offset.value()}}),
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

bench_proof examiner::examine() && {
    out_.stopped = heard_.stopped;
    look_at_stream();
    if (out_.stopped) return std::move(out_);
    look_at_rest();
    if (!bench_.loop) {
        out_.cannot_exclude = unproven_without_loop();
        if (bench_.audio) out_.latency = bench_.audio->round_trip;
        return std::move(out_);
    }
    look_at_loop();
    if (!loop_) return std::move(out_);
    // After lost samples or with two clocks nothing lies where it was sent to; beneath noise or hum
    // nothing is read well; and what a mixer adds would be taken for levels.
    const bool in_place =
        loop_->breaks.empty() && 100 * std::abs(loop_->rate_error) <= limits::drift_percent;
    if (!in_place || !quiet_) return std::move(out_);
    look_at_bandwidth();
    look_at_crosstalk_into_inputs();
    look_at_crosstalk_from_outputs();
    if (!mixed_) look_at_levels();
    return std::move(out_);
}

}  // namespace

bool bench_proof::trusted() const noexcept {
    return !stopped && !findings.empty() &&
           std::ranges::all_of(findings, [](const bench_finding& f) { return f.ok; });
}

bench_proof judge_self_test(const bench& b, const self_test_stimulus& sent, const volts_in& heard) {
    return examiner{b, sent, heard}.examine();
}

bench_proof self_test(audio_interface& to, const bench& b, self_test_form form,
                      std::span<const volts> resting, const std::stop_token& stop) {
    const auto sent = make_self_test(b, to.rate(), form, resting);
    return judge_self_test(b, sent, to.exchange(sent.out, sent.tail, stop));
}

check_result as_check_result(const bench_proof& proof) {
    check_result out;
    out.check = "bench";
    out.reads = "what the rig proved of itself";
    for (const auto& f : proof.findings) {
        finding one;
        one.check = out.check;
        one.name = f.name;
        one.measured = f.measured;
        one.allowed = f.allowed;
        one.outcome = f.ok ? verdict::pass : verdict::unsure;
        one.reason = f.sentence;
        out.findings.push_back(std::move(one));
    }
    return out;
}

std::vector<std::string> faults(const bench_proof& proof) {
    std::vector<std::string> out;
    for (const auto& f : proof.findings)
        if (!f.ok) out.push_back(f.sentence);
    if (proof.stopped) out.emplace_back("The self-test was stopped before it was complete.");
    return out;
}

}  // namespace cvrig
