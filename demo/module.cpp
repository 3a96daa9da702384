#include "demo/module.hpp"

#include <algorithm>

namespace ferrule {
namespace {

constexpr double peak_volts = 5.0;
constexpr double output_noise_volts = 0.0001;
constexpr double rail_volts = 12.0;

const std::array<double, block_frames>& row(const input_block& in, jack which) {
    return in[static_cast<std::size_t>(which)];
}

}  // namespace

module_under_test::module_under_test(const module_plan& plan) noexcept
    : plan_{plan},
      input_noise_{plan.seed * 2 + 1000003ULL * plan.unit.unit},
      output_noise_{plan.seed * 2 + 1 + 1000003ULL * plan.unit.unit},
      pitch_{plan.unit.pitch},
      cutoff_{plan.unit.cutoff},
      decay_{plan.unit.decay},
      gate_{plan.unit.gate_trip_volts},
      accent_{plan.unit.gate_trip_volts},
      slide_{plan.unit.gate_trip_volts},
      voice_{plan.set, plan.rate_hertz / plan.unit.clock_ratio} {}

double module_under_test::control_volts(const converter& input, double knob, double jack) noexcept {
    const double sum = std::clamp(5.0 * knob + jack, 0.0, 5.0);
    return calibration{}.volts(input.read(sum, input_noise_));
}

readings module_under_test::read_jacks(const input_block& in) noexcept {
    double code = 0.0;
    for (const double volts : row(in, jack::pitch)) code += pitch_.read(volts, input_noise_);
    readings now;
    now.pitch_volts = plan_.stored.volts(code / static_cast<double>(block_frames));
    now.gate = gate_.read(row(in, jack::gate).back());
    now.accent = accent_.read(row(in, jack::accent).back());
    now.slide = slide_.read(row(in, jack::slide).back());
    now.cutoff_volts = control_volts(cutoff_, plan_.set.cutoff_knob, row(in, jack::cutoff).back());
    now.decay_volts = control_volts(decay_, plan_.set.decay_knob, row(in, jack::decay).back());
    return now;
}

void module_under_test::process(const input_block& in, output_block& out) noexcept {
    const auto playing = waiting_[at_];
    voice_.process(read_jacks(in), waiting_[at_]);
    at_ = (at_ + 1) % waiting_.size();
    for (std::size_t channel = 0; channel < output_count; ++channel) {
        const double gain = peak_volts * plan_.unit.output_gain[channel];
        for (std::size_t i = 0; i < block_frames; ++i) {
            const double volts = playing[i] * gain + plan_.unit.output_dc_volts[channel] +
                                 output_noise_volts * output_noise_.normal();
            out[channel][i] = std::clamp(volts, -rail_volts, rail_volts);
        }
    }
}

}  // namespace ferrule
