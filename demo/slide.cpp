#include "demo/slide.hpp"

#include <algorithm>
#include <cmath>

namespace ferrule {
namespace {

constexpr double volts_per_cent = 1.0 / 1200.0;
constexpr double arrived_volts = 0.1 * volts_per_cent;

double time_constant(const settings& set, const fault_set& faults) {
    const double ratio = slide::longest_seconds / slide::shortest_seconds;
    return slide::shortest_seconds * std::pow(ratio, set.slide_knob) *
           (1.0 + faults[fault::slide_time] / 100.0) * (1.0 + 7.0 * faults[fault::slide_slow_8x]);
}

}  // namespace

slide::slide(const settings& set, const fault_set& faults, double block_seconds) noexcept
    : faults_{faults}, block_seconds_{block_seconds} {
    this->set(set);
}

void slide::set(const settings& to) noexcept {
    time_constant_seconds_ = time_constant(to, faults_);
    kept_ = std::exp(-block_seconds_ / time_constant_seconds_);
    dead_ = faults_.has(fault::slide_dead_waveform) && to.waveform == waveform::square;
}

double slide::kept(double interval_octaves) const noexcept {
    if (!faults_.has(fault::slide_interval_dependence)) return kept_;
    const double more =
        faults_[fault::slide_interval_dependence] / 100.0 * (std::abs(interval_octaves) - 1.0);
    return std::exp(-block_seconds_ / (time_constant_seconds_ * std::max(0.1, 1.0 + more)));
}

void slide::begin_step(double target_volts, bool sliding) noexcept {
    const bool interrupts =
        moving_ && std::abs(volts_ - before_target_volts_) > 10.0 * volts_per_cent;
    if (interrupts) volts_ += faults_[fault::slide_interrupted_start] * volts_per_cent;
    slides_in_run_ = sliding ? slides_in_run_ + 1 : 0;
    start_volts_ = volts_;
    passed_ = false;
    short_ = sliding;
    before_target_volts_ = target_volts;
}

/// Where the slide is heading, which in a good build is the target.
double slide::aim(double target_volts, double interval) noexcept {
    const double direction = interval < 0.0 ? -1.0 : 1.0;
    if (short_) {
        target_volts -= direction * faults_[fault::slide_arrival_short] * volts_per_cent;
    }
    const double beyond = direction * faults_[fault::slide_overshoot] * volts_per_cent;
    if (beyond == 0.0 || !moving_) return target_volts;
    passed_ = passed_ || (volts_ - target_volts - beyond) * direction >= 0.0;
    return passed_ ? target_volts : target_volts + 2.0 * beyond;
}

double slide::toward(double aim_volts, double kept_share) const noexcept {
    const double in_volts = aim_volts + (volts_ - aim_volts) * kept_share;
    const double share = faults_[fault::slide_shape_hertz];
    if (share == 0.0) return in_volts;
    const double here = std::exp2(volts_);
    const double there = std::exp2(aim_volts);
    const double in_hertz = std::log2(there + (here - there) * kept_share);
    return in_volts + share * (in_hertz - in_volts);
}

double slide::next(double target_volts, bool jack_high, const beginnings& now) noexcept {
    const bool again =
        faults_.has(fault::slide_second_jumps) && slides_in_run_ >= (now.first ? 1 : 2);
    const bool sliding = jack_high && !dead_ && !again;
    if (now.gate) slides_in_run_ = 0;
    if (now.first) begin_step(target_volts, jack_high && !now.gate);
    if (!now.step) before_target_volts_ = target_volts;
    const double interval = target_volts - start_volts_;
    const double goal = aim(target_volts, interval);
    if (sliding) {
        moving_ = true;
    } else if (now.step || now.gate || std::abs(volts_ - goal) < arrived_volts) {
        moving_ = false;
    }
    if (moving_) {
        volts_ = toward(goal, kept(interval));
    } else if (faults_.has(fault::step_smear)) {
        volts_ = goal + (volts_ - goal) * std::exp(-block_seconds_ * 1000.0 /
                                                   std::abs(faults_[fault::step_smear]));
    } else {
        volts_ = goal;
    }
    return volts_;
}

}  // namespace ferrule
