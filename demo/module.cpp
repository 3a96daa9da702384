#include "demo/module.hpp"

#include <algorithm>

namespace ferrule {
namespace {

const std::array<double, block_frames>& row(const input_block& in, jack which) {
    return in[static_cast<std::size_t>(which)];
}

/// The crystal of this unit: the voice believes in the nominal rate, and the true one differs.
double believed_rate_hertz(const module_plan& plan) {
    return plan.rate_hertz / plan.unit.clock_ratio;
}

std::uint64_t seed_of(const module_plan& plan, std::uint64_t purpose) {
    return plan.seed * 16 + purpose + 1000003ULL * plan.unit.unit;
}

}  // namespace

module_under_test::module_under_test(const module_plan& plan) noexcept
    : set_{plan.set},
      noise_{seed_of(plan, 0)},
      pitch_{plan.unit.pitch},
      cutoff_{plan.unit.cutoff},
      decay_{plan.unit.decay},
      gate_{plan.unit.gate_trip_volts, plan.faults,
            static_cast<double>(block_frames) / plan.rate_hertz},
      accent_{plan.unit.gate_trip_volts},
      slide_{plan.unit.gate_trip_volts},
      voice_{{plan.set, plan.stored, plan.faults, believed_rate_hertz(plan)}},
      outputs_{plan.unit, plan.faults, plan.rate_hertz, seed_of(plan, 1)} {}

double module_under_test::control_volts(const converter& input, double knob, double jack) noexcept {
    const double sum = std::clamp(5.0 * knob + jack, 0.0, 5.0);
    return calibration{}.volts(input.read(sum, noise_));
}

readings module_under_test::read_jacks(const input_block& in) noexcept {
    double code = 0.0;
    for (const double volts : row(in, jack::pitch)) code += pitch_.read(volts, noise_);
    readings now;
    now.pitch_code = code / static_cast<double>(block_frames);
    now.gate = gate_.read(row(in, jack::gate).back());
    now.accent = accent_.read(row(in, jack::accent).back());
    now.slide = slide_.read(row(in, jack::slide).back());
    now.cutoff_volts = control_volts(cutoff_, set_.cutoff_knob, row(in, jack::cutoff).back());
    now.decay_volts = control_volts(decay_, set_.decay_knob, row(in, jack::decay).back());
    return now;
}

void module_under_test::play(output_block& out) noexcept {
    outputs_.process(waiting_[at_], out);
}

void module_under_test::record(const input_block& in) noexcept {
    voice_.process(read_jacks(in), waiting_[at_]);
    at_ = (at_ + 1) % waiting_.size();
}

}  // namespace ferrule
