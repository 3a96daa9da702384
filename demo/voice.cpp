#include "demo/voice.hpp"

#include <algorithm>
#include <cmath>

namespace ferrule {
namespace {

constexpr double lowest_note_hertz = 65.40639132514966;  // C2 at 0 V
constexpr double excuse_seconds = 0.005;
constexpr double full_scale_volts = 5.0;  // at the outputs, for a sound of 1
constexpr double click_seconds = 0.002;
constexpr double cutoff_jump_volts = 0.2;

wave_mix mix_of(waveform shape, const fault_set& faults) {
    wave_mix mix;
    mix.smooth_steps = !faults.has(fault::aliasing);
    mix.high_share = 0.5 + faults[fault::square_width] / 100.0;
    const double swapped = faults[fault::waveform_swapped] / 100.0;
    mix.square = shape == waveform::square ? 1.0 - swapped : swapped;
    if (shape == waveform::blend) mix.square = 0.5 + faults[fault::blend_shift] / 100.0;
    mix.saw = 1.0 - mix.square;
    return mix;
}

/// What the switches are taken for before they move for the first time.
settings at_boot(const voice_plan& plan) {
    settings set = plan.set;
    if (plan.faults.has(fault::waveform_unread)) set.waveform = waveform::saw;
    return set;
}

}  // namespace

voice::voice(const voice_plan& plan) noexcept
    : faults_{plan.faults},
      cutoff_control_{plan.faults},
      controls_{controls_of(at_boot(plan), plan.faults)},
      glide_from_{controls_},
      glide_to_{controls_},
      rate_hertz_{plan.rate_hertz / (1.0 + plan.faults[fault::rate_ratio] / 100.0)},
      block_seconds_{static_cast<double>(block_frames) / rate_hertz_},
      pitch_{plan.stored, plan.faults, block_seconds_},
      slide_{plan.set, plan.faults, block_seconds_},
      contour_{plan.set, plan.faults, rate_hertz_},
      pitch_look_{plan.faults, block_seconds_},
      cutoff_look_{plan.faults, block_seconds_} {}

voice::controls voice::controls_of(const settings& set, const fault_set& faults) {
    const auto ranges = ranges_of(set.mode);
    return {ranges, ranges.most_resonance * set.resonance_knob, mix_of(set.waveform, faults)};
}

voice::controls voice::between(const controls& from, const controls& to, double share) {
    const auto part = [share](double a, double b) { return a + share * (b - a); };
    controls made = to;
    made.ranges.cutoff_lowest_hertz =
        part(from.ranges.cutoff_lowest_hertz, to.ranges.cutoff_lowest_hertz);
    made.ranges.cutoff_octaves_per_volt =
        part(from.ranges.cutoff_octaves_per_volt, to.ranges.cutoff_octaves_per_volt);
    made.feedback = part(from.feedback, to.feedback);
    made.mix.saw = part(from.mix.saw, to.mix.saw);
    made.mix.square = part(from.mix.square, to.mix.square);
    return made;
}

void voice::set(const settings& to) noexcept {
    glide_from_ = controls_;
    glide_to_ = controls_of(to, faults_);
    glide_left_ = change_samples;
    slide_.set(to);
    contour_.set(to);
}

void voice::glide() noexcept {
    --glide_left_;
    const double left = static_cast<double>(glide_left_) / change_samples;
    controls_ = glide_left_ == 0 ? glide_to_ : between(glide_from_, glide_to_, 1.0 - left);
}

double voice::follow_pitch(const readings& now, events& seen) noexcept {
    const double read_volts =
        pitch_look_.see(pitch_.read(now.pitch_code), step_watch::settled_volts);
    beginnings begin;
    begin.gate = seen.gate_rose;
    begin.step = std::abs(read_volts - before_volts_) > step_watch::settled_volts;
    begin.first = begin.step && !stepping_;
    if (begin.first && now.slide) click_ = faults_[fault::slide_click] / full_scale_volts;
    before_volts_ = read_volts;
    stepping_ = begin.step;
    if (begin.gate) watch_.new_note(static_cast<int>(excuse_seconds / block_seconds_) + 1);
    seen.stepped = watch_.stepped(read_volts);
    const double volts = pitch_.settle(read_volts, begin.gate, begin.first);
    return slide_.next(volts, now.slide, begin);
}

double voice::cutoff_hertz(double cutoff_volts) const noexcept {
    const double octaves =
        cutoff_control_.octaves(cutoff_volts, controls_.ranges.cutoff_octaves_per_volt) +
        contour_.filter_octaves();
    return std::min(controls_.ranges.cutoff_lowest_hertz * std::exp2(octaves),
                    std::min(20000.0, 0.42 * rate_hertz_));
}

void voice::render(const targets& to, std::span<double, block_frames> sound) noexcept {
    constexpr double part = 1.0 / static_cast<double>(block_frames);
    if (!slide_.moving()) cycles_ = to.cycles;
    const double cycles_step = (to.cycles - cycles_) * part;
    const double gain_step = (to.pole_gain - pole_gain_) * part;
    for (double& sample : sound) {
        if (glide_left_ > 0) glide();
        cycles_ += cycles_step;
        pole_gain_ += gain_step;
        const double feedback = controls_.feedback;
        const double wave = oscillator_.next(cycles_, controls_.mix) * (1.0 + 0.5 * feedback);
        sample = ladder_.next(wave, pole_gain_, feedback) * contour_.next(to.falls);
    }
}

/// What a slide's click leaves behind dies away like a capacitor's charge.
void voice::click(std::span<double, block_frames> sound) noexcept {
    if (click_ == 0.0) return;
    const double kept = std::exp(-1.0 / (click_seconds * rate_hertz_));
    for (double& sample : sound) {
        sample += click_;
        click_ *= kept;
    }
    if (std::abs(click_) < 1e-9) click_ = 0.0;
}

void voice::process(const readings& now, std::span<double, block_frames> sound) noexcept {
    events seen;
    seen.gate = now.gate;
    seen.gate_rose = now.gate && !gate_;
    seen.slide = now.slide;
    gate_ = now.gate;
    const double volts = follow_pitch(now, seen);
    const auto falls = contour_.follow(seen, now.accent, now.decay_volts);
    const double cutoff = cutoff_hertz(cutoff_look_.see(
        in_steps(now.cutoff_volts, faults_[fault::cutoff_steps]), cutoff_jump_volts));
    render({lowest_note_hertz * std::exp2(std::min(volts, 7.0)) / rate_hertz_,
            ladder::pole_gain(cutoff / rate_hertz_), falls},
           sound);
    click(sound);
    silent_ = silent_ || (faults_.has(fault::filter_dies) && cutoff > 8000.0 &&
                          controls_.feedback > 0.667 * controls_.ranges.most_resonance);
    if (silent_) std::fill(sound.begin(), sound.end(), 0.0);
}

}  // namespace ferrule
