#include "demo/voice.hpp"

#include <algorithm>
#include <cmath>

namespace ferrule {
namespace {

constexpr double lowest_note_hertz = 65.406391;  // C2 at 0 V
constexpr double amplitude_decay_seconds = 3.5;
constexpr double release_seconds = 0.008;
constexpr double accented_decay_seconds = 0.2;
constexpr double envelope_octaves = 2.5;
constexpr double excuse_seconds = 0.005;

double kept_after(double seconds, double time_constant_seconds) {
    return std::exp(-seconds / time_constant_seconds);
}

double between(double low, double high, double part) {
    return low * std::pow(high / low, part);
}

}  // namespace

voice::voice(const settings& set, double rate_hertz) noexcept
    : settings_{set},
      ranges_{ranges_of(set.mode)},
      rate_hertz_{rate_hertz},
      block_seconds_{static_cast<double>(block_frames) / rate_hertz},
      slide_kept_{kept_after(block_seconds_, between(slide::shortest_seconds,
                                                     slide::longest_seconds, set.slide_knob))},
      feedback_{ranges_.most_resonance * set.resonance_knob} {}

void voice::strike(bool accented) noexcept {
    accented_ = memory_.strike(accented);
    amplitude_.strike(std::pow(10.0, accented_.level_db / 20.0), rate_hertz_);
    filter_.strike(1.0, rate_hertz_);
}

void voice::follow_gate(const readings& now, bool stepped) noexcept {
    memory_.wait(kept_after(block_seconds_, accent_memory::rest_seconds));
    if (now.gate && (!gate_ || (stepped && settings_.mode == mode::struck))) strike(now.accent);
    if (!now.gate) amplitude_.let_go();
    gate_ = now.gate;
}

double voice::cutoff_hertz(const readings& now) const noexcept {
    const double octaves = now.cutoff_volts * ranges_.cutoff_octaves_per_volt +
                           filter_.level() * (envelope_octaves + accented_.brightness_octaves);
    return std::min(ranges_.cutoff_lowest_hertz * std::exp2(octaves),
                    std::min(20000.0, 0.42 * rate_hertz_));
}

voice::block_controls voice::controls_for(const readings& now, double volts) noexcept {
    const double decay_seconds =
        accented_.shortens_decay ? accented_decay_seconds
                                 : between(ranges_.decay_shortest_seconds,
                                           ranges_.decay_longest_seconds, now.decay_volts / 5.0);
    const double sample_seconds = 1.0 / rate_hertz_;
    return {lowest_note_hertz * std::exp2(volts) / rate_hertz_,
            ladder::pole_gain(cutoff_hertz(now) / rate_hertz_),
            kept_after(sample_seconds, gate_ ? amplitude_decay_seconds : release_seconds),
            kept_after(sample_seconds, decay_seconds)};
}

void voice::render(const block_controls& to, std::span<double, block_frames> sound) noexcept {
    constexpr double part = 1.0 / static_cast<double>(block_frames);
    if (!slide_.moving()) cycles_ = to.cycles;
    const double cycles_step = (to.cycles - cycles_) * part;
    const double gain_step = (to.pole_gain - pole_gain_) * part;
    const double make_up = 1.0 + 0.5 * feedback_;
    for (double& sample : sound) {
        cycles_ += cycles_step;
        pole_gain_ += gain_step;
        const double wave = oscillator_.next(cycles_, settings_.waveform);
        filter_.next(to.filter_fall);
        sample = ladder_.next(wave * make_up, pole_gain_, feedback_) *
                 amplitude_.next(to.amplitude_fall);
    }
}

void voice::process(const readings& now, std::span<double, block_frames> sound) noexcept {
    const bool fresh = std::abs(now.pitch_volts - before_volts_) > step_watch::settled_volts ||
                       (now.gate && !gate_);
    before_volts_ = now.pitch_volts;
    if (now.gate && !gate_) watch_.new_note(static_cast<int>(excuse_seconds / block_seconds_) + 1);
    const bool stepped = watch_.stepped(now.pitch_volts);
    follow_gate(now, stepped);
    const double volts = slide_.next(now.pitch_volts, now.slide, fresh, slide_kept_);
    render(controls_for(now, volts), sound);
}

}  // namespace ferrule
