#include "demo/module.hpp"

#include <algorithm>
#include <cmath>

namespace ferrule {
namespace {

const std::array<double, block_frames>& row(const input_block& in, jack which) {
    return in[static_cast<std::size_t>(which)];
}

/// The crystal of this unit: the voice believes in the nominal rate, and the true one differs.
double believed_rate_hertz(const module_plan& plan) {
    return plan.rate_hertz / plan.unit.clock_ratio;
}

/// A hand on a knob: from one end to the other in 20 blocks, which is 10 ms.
double turned(double knob, double to) {
    constexpr double most = 1.0 / 20.0;
    return std::abs(to - knob) <= most ? to : knob + std::copysign(most, to - knob);
}

std::uint64_t seed_of(const module_plan& plan, std::uint64_t purpose) {
    return plan.seed * 16 + purpose + 1000003ULL * plan.unit.unit;
}

}  // namespace

module_under_test::module_under_test(const module_plan& plan) noexcept
    : set_{plan.set},
      stored_{plan.stored},
      faults_{plan.faults},
      believed_rate_hertz_{believed_rate_hertz(plan)},
      block_seconds_{static_cast<double>(block_frames) / plan.rate_hertz},
      cutoff_knob_{plan.set.cutoff_knob},
      decay_knob_{plan.set.decay_knob},
      noise_{seed_of(plan, 0)},
      trouble_{seed_of(plan, 3)},
      pitch_{plan.unit.pitch},
      cutoff_{plan.unit.cutoff},
      decay_{plan.unit.decay},
      gate_{plan.unit.gate_trip_volts, plan.faults,
            static_cast<double>(block_frames) / plan.rate_hertz},
      cutoff_control_{plan.faults},
      accent_{plan.unit.gate_trip_volts},
      slide_{plan.unit.gate_trip_volts},
      voice_{{plan.set, plan.stored, plan.faults, believed_rate_hertz_}},
      outputs_{plan.unit, plan.faults, plan.rate_hertz, seed_of(plan, 1)} {}

void module_under_test::set(const settings& to) noexcept {
    set_ = to;
    voice_.set(to);
}

double module_under_test::cutoff_volts(double jack) noexcept {
    const double contact = cutoff_control_.at_contact(set_.cutoff_cable_in, jack);
    return calibration{}.volts(cutoff_.read(cutoff_control_.sum(cutoff_knob_, contact), noise_));
}

double module_under_test::decay_volts(double jack) noexcept {
    const double sum = std::clamp(5.0 * decay_knob_ + jack, 0.0, 5.0);
    return calibration{}.volts(decay_.read(sum, noise_));
}

bool module_under_test::slide_read(bool jack_high) noexcept {
    const double late_blocks = faults_[fault::slide_flag_late] / 1000.0 / block_seconds_;
    const auto late = static_cast<std::size_t>(
        std::clamp(std::round(late_blocks), 0.0, static_cast<double>(remembered_blocks - 1)));
    slide_at_ = (slide_at_ + 1) % remembered_blocks;
    slide_history_[slide_at_] = jack_high;
    return slide_history_[(slide_at_ + remembered_blocks - late) % remembered_blocks];
}

/// True while the firmware boots; what it knew of its notes is gone then.
bool module_under_test::starts_again() noexcept {
    constexpr double boot_seconds = 0.3;
    on_seconds_ += block_seconds_;
    if (!was_reset_ && faults_.has(fault::reset_mid_pattern) &&
        on_seconds_ >= faults_[fault::reset_mid_pattern]) {
        was_reset_ = true;
        silent_seconds_ = boot_seconds;
        voice_ = voice{{set_, stored_, faults_, believed_rate_hertz_}};
    }
    if (silent_seconds_ <= 0.0) return false;
    silent_seconds_ -= block_seconds_;
    return true;
}

readings module_under_test::read_jacks(const input_block& in) noexcept {
    double code = 0.0;
    for (const double volts : row(in, jack::pitch)) code += pitch_.read(volts, noise_);
    pitch_code_ = code / static_cast<double>(block_frames);
    cutoff_knob_ = turned(cutoff_knob_, set_.cutoff_knob);
    decay_knob_ = turned(decay_knob_, set_.decay_knob);
    readings now;
    now.pitch_code = pitch_code_;
    now.gate = gate_.read(row(in, jack::gate).back());
    now.accent = accent_.read(row(in, jack::accent).back());
    now.slide = slide_read(slide_.read(row(in, jack::slide).back()));
    now.cutoff_volts = cutoff_volts(row(in, jack::cutoff).back());
    now.decay_volts = decay_volts(row(in, jack::decay).back());
    return now;
}

void module_under_test::play(output_block& out) noexcept {
    outputs_.process(waiting_[at_], pitch_jack_volts_, out);
}

/// Whether something that happens so often a second, by chance, happens in this block.
bool module_under_test::happens(fault which) noexcept {
    if (!faults_.has(which)) return false;
    return 0.5 + 0.5 * trouble_.uniform() < faults_[which] * block_seconds_;
}

void module_under_test::record(const input_block& in) noexcept {
    pitch_jack_volts_ = row(in, jack::pitch);
    const auto now = read_jacks(in);
    // Too late: what has just been played is played again, and the voice stands still meanwhile.
    if (happens(fault::repeat_block)) return;
    if (starts_again())
        waiting_[at_].fill(0.0);
    else
        voice_.process(now, waiting_[at_]);
    if (happens(fault::missing_block)) voice_.process(now, waiting_[at_]);
    at_ = (at_ + 1) % waiting_.size();
}

}  // namespace ferrule
