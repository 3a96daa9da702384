#include "demo/voice.hpp"

#include <algorithm>
#include <cmath>

namespace ferrule {
namespace {

constexpr double lowest_note_hertz = 65.40639132514966;  // C2 at 0 V
constexpr double excuse_seconds = 0.005;

wave_mix mix_of(waveform shape, const fault_set& faults) {
    wave_mix mix;
    mix.smooth_steps = !faults.has(fault::aliasing);
    mix.high_share = 0.5 + faults[fault::square_width] / 100.0;
    if (shape == waveform::square) mix.square = 1.0;
    if (shape == waveform::blend) mix.square = 0.5 + faults[fault::blend_shift] / 100.0;
    mix.saw = 1.0 - mix.square;
    return mix;
}

}  // namespace

voice::voice(const voice_plan& plan) noexcept
    : ranges_{ranges_of(plan.set.mode)},
      faults_{plan.faults},
      rate_hertz_{plan.rate_hertz / (1.0 + plan.faults[fault::rate_ratio] / 100.0)},
      block_seconds_{static_cast<double>(block_frames) / rate_hertz_},
      feedback_{ranges_.most_resonance * plan.set.resonance_knob},
      mix_{mix_of(plan.set.waveform, plan.faults)},
      pitch_{plan.stored, plan.faults, block_seconds_},
      slide_{plan.set, plan.faults, block_seconds_},
      contour_{plan.set, plan.faults, rate_hertz_} {}

double voice::follow_pitch(const readings& now, events& seen) noexcept {
    const double read_volts = pitch_.read(now.pitch_code);
    beginnings begin;
    begin.gate = seen.gate_rose;
    begin.step = std::abs(read_volts - before_volts_) > step_watch::settled_volts;
    begin.first = begin.step && !stepping_;
    before_volts_ = read_volts;
    stepping_ = begin.step;
    if (begin.gate) watch_.new_note(static_cast<int>(excuse_seconds / block_seconds_) + 1);
    seen.stepped = watch_.stepped(read_volts);
    const double volts = pitch_.settle(read_volts, begin.gate, begin.first);
    return slide_.next(volts, now.slide, begin);
}

double voice::cutoff_hertz(double cutoff_volts) const noexcept {
    const double octaves =
        cutoff_volts * ranges_.cutoff_octaves_per_volt + contour_.filter_octaves();
    return std::min(ranges_.cutoff_lowest_hertz * std::exp2(octaves),
                    std::min(20000.0, 0.42 * rate_hertz_));
}

void voice::render(const targets& to, std::span<double, block_frames> sound) noexcept {
    constexpr double part = 1.0 / static_cast<double>(block_frames);
    if (!slide_.moving()) cycles_ = to.cycles;
    const double cycles_step = (to.cycles - cycles_) * part;
    const double gain_step = (to.pole_gain - pole_gain_) * part;
    const double make_up = 1.0 + 0.5 * feedback_;
    for (double& sample : sound) {
        cycles_ += cycles_step;
        pole_gain_ += gain_step;
        const double wave = oscillator_.next(cycles_, mix_);
        sample = ladder_.next(wave * make_up, pole_gain_, feedback_) * contour_.next(to.falls);
    }
}

void voice::process(const readings& now, std::span<double, block_frames> sound) noexcept {
    events seen;
    seen.gate = now.gate;
    seen.gate_rose = now.gate && !gate_;
    seen.slide = now.slide;
    gate_ = now.gate;
    const double volts = follow_pitch(now, seen);
    const auto falls = contour_.follow(seen, now.accent, now.decay_volts);
    const double cutoff = cutoff_hertz(now.cutoff_volts);
    render({lowest_note_hertz * std::exp2(std::min(volts, 7.0)) / rate_hertz_,
            ladder::pole_gain(cutoff / rate_hertz_), falls},
           sound);
    silent_ = silent_ || (faults_.has(fault::filter_dies) && cutoff > 8000.0 &&
                          feedback_ > 0.667 * ranges_.most_resonance);
    if (silent_) std::fill(sound.begin(), sound.end(), 0.0);
}

}  // namespace ferrule
