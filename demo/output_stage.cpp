#include "demo/output_stage.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ferrule {
namespace {

constexpr double peak_volts = 5.0;
constexpr double noise_volts = 0.0001;
constexpr double rail_volts = 12.0;
constexpr double crackles_per_second = 8.0;
constexpr std::size_t most_late_samples = 8192;
constexpr double mains_hertz = 50.07;  // no grid holds its nominal frequency
constexpr double led_hertz = 976.5625;
constexpr auto right = static_cast<std::size_t>(output::right);

/// Lowest line of peak 1 and its third and fifth multiple.
double odd_lines(double hertz, double seconds) {
    const double angle = 2.0 * std::numbers::pi * hertz * seconds;
    return std::sin(angle) + std::sin(3.0 * angle) / 3.0 + std::sin(5.0 * angle) / 5.0;
}

double ratio_of_db(double db) {
    return std::pow(10.0, db / 20.0);
}

}  // namespace

output_stage::output_stage(const specimen& unit, const fault_set& faults, double rate_hertz,
                           std::uint64_t seed) noexcept
    : faults_{faults},
      rate_hertz_{rate_hertz},
      dc_volts_{unit.output_dc_volts},
      noise_{seed},
      trouble_{seed + 1},
      past_(most_late_samples, 0.0) {
    for (std::size_t channel = 0; channel < output_count; ++channel) {
        gain_volts_[channel] = peak_volts * unit.output_gain[channel] * gain_of(channel);
        dc_volts_[channel] += faults[fault::output_dc];
        late_samples_[channel] = late_samples_of(channel);
    }
}

double output_stage::gain_of(std::size_t channel) const noexcept {
    const double both = ratio_of_db(faults_[fault::level_jump]);
    if (channel != right) return both;
    return both * ratio_of_db(-faults_[fault::output_quieter]) *
           (1.0 - 2.0 * faults_[fault::output_inverted]) * (1.0 - faults_[fault::output_dead]);
}

double output_stage::late_samples_of(std::size_t channel) const noexcept {
    const double both = faults_[fault::latency] * static_cast<double>(block_frames);
    const double late = channel == right ? both + faults_[fault::output_delay] : both;
    return std::clamp(late, 0.0, static_cast<double>(most_late_samples - 2));
}

/// Between two samples a straight line serves: a delay of part of a sample is a fault's business.
double output_stage::delayed(double late_samples) const noexcept {
    const auto whole = static_cast<std::size_t>(late_samples);
    const double part = late_samples - static_cast<double>(whole);
    const double newer = past_[(at_ + most_late_samples - whole) % most_late_samples];
    const double older = past_[(at_ + most_late_samples - whole - 1) % most_late_samples];
    return newer + part * (older - newer);
}

double output_stage::disturbance_volts() noexcept {
    double volts = 0.0;
    if (faults_.has(fault::output_noise)) volts += faults_[fault::output_noise] * trouble_.normal();
    const double angle = 2.0 * std::numbers::pi * played_samples_ / block_frames;
    if (faults_.has(fault::block_tone)) volts += faults_[fault::block_tone] * std::sin(angle);
    const double seconds = played_samples_ / rate_hertz_;
    if (faults_.has(fault::mains_hum))
        volts += faults_[fault::mains_hum] * odd_lines(mains_hertz, seconds);
    if (faults_.has(fault::led_tone))
        volts += faults_[fault::led_tone] * odd_lines(led_hertz, seconds);
    if (faults_.has(fault::boot_pop)) {
        volts += faults_[fault::boot_pop] * std::exp(-played_samples_ / (0.005 * rate_hertz_));
    }
    if (faults_.has(fault::crackle)) volts += crackle_volts();
    return volts;
}

double output_stage::crackle_volts() noexcept {
    const double draw = trouble_.uniform();
    const double share = crackles_per_second / rate_hertz_;
    return std::abs(draw) < share ? std::copysign(faults_[fault::crackle], draw) : 0.0;
}

bool output_stage::drops_out() noexcept {
    if (!faults_.has(fault::dropouts)) return false;
    const double chance =
        faults_[fault::dropouts] * static_cast<double>(block_frames) / rate_hertz_;
    return 0.5 + 0.5 * trouble_.uniform() < chance;
}

void output_stage::process(std::span<const double, block_frames> sound,
                           std::span<const double, block_frames> neighbour_volts,
                           output_block& out) noexcept {
    const double bleed = faults_[fault::cv_bleed] / 100.0;
    const double kept = drops_out() ? 0.0 : 1.0;
    for (std::size_t i = 0; i < block_frames; ++i) {
        at_ = (at_ + 1) % most_late_samples;
        past_[at_] = sound[i] * kept;
        const double disturbance = disturbance_volts() + bleed * neighbour_volts[i];
        for (std::size_t channel = 0; channel < output_count; ++channel) {
            const double volts = delayed(late_samples_[channel]) * gain_volts_[channel] +
                                 dc_volts_[channel] + noise_volts * noise_.normal() + disturbance;
            out[channel][i] = std::clamp(volts, -rail_volts, rail_volts);
        }
        played_samples_ += 1.0;
    }
}

}  // namespace ferrule
