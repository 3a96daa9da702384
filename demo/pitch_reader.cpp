#include "demo/pitch_reader.hpp"

#include <algorithm>
#include <cmath>

namespace ferrule {
namespace {

constexpr double volts_per_cent = 1.0 / 1200.0;
constexpr double top_volts = 5.0;
constexpr double early_seconds = 0.008;

/// What the firmware takes the stored constants for.
calibration constants_read(const calibration& stored, const fault_set& faults) {
    calibration read = stored;
    const calibration nominal;
    const double slope_lost = faults[fault::calibration_lost] + faults[fault::calibration_layout];
    read.slope_volts_per_code +=
        slope_lost * (nominal.slope_volts_per_code - stored.slope_volts_per_code);
    read.offset_volts +=
        faults[fault::calibration_lost] * (nominal.offset_volts - stored.offset_volts);
    return read;
}

}  // namespace

pitch_reader::pitch_reader(const calibration& stored, const fault_set& faults,
                           double block_seconds) noexcept
    : constants_{constants_read(stored, faults)}, faults_{faults}, block_seconds_{block_seconds} {}

void pitch_reader::set(const calibration& stored) noexcept {
    constants_ = constants_read(stored, faults_);
}

double pitch_reader::bent(double volts) const noexcept {
    constexpr double knee_volts = 2.0;
    constexpr double octave_volts = 3.0 - 5.0 * volts_per_cent;
    double bent = volts * (1.0 + faults_[fault::pitch_slope] / 100.0) +
                  faults_[fault::pitch_offset] * volts_per_cent +
                  faults_[fault::pitch_drift] * volts_per_cent * on_seconds_;
    if (volts > knee_volts) {
        bent += faults_[fault::pitch_knee] * volts_per_cent * (volts - knee_volts) / 2.0;
    }
    if (volts > octave_volts) bent += faults_[fault::pitch_octave];
    return bent;
}

double pitch_reader::clipped(double volts) const noexcept {
    if (faults_.has(fault::pitch_clip_top)) {
        volts = std::min(volts, top_volts - faults_[fault::pitch_clip_top]);
    }
    if (faults_.has(fault::pitch_clip_bottom)) {
        volts = std::max(volts, faults_[fault::pitch_clip_bottom]);
    }
    if (faults_.has(fault::pitch_quantised)) {
        const double step = faults_[fault::pitch_quantised] * volts_per_cent;
        volts = std::round(volts / step) * step;
    }
    return volts;
}

double pitch_reader::with_backlash(double volts) noexcept {
    if (!faults_.has(fault::pitch_hysteresis)) return volts;
    const double half = std::abs(faults_[fault::pitch_hysteresis]) * volts_per_cent / 2.0;
    backlash_volts_ = std::clamp(backlash_volts_, volts - half, volts + half);
    return backlash_volts_;
}

double pitch_reader::late(double volts) noexcept {
    const double blocks = std::round(faults_[fault::pitch_late] / 1000.0 / block_seconds_);
    const auto back = static_cast<std::size_t>(
        std::clamp(blocks, 0.0, static_cast<double>(most_late_blocks - 1)));
    at_ = (at_ + 1) % most_late_blocks;
    past_volts_[at_] = volts;
    return past_volts_[(at_ + most_late_blocks - back) % most_late_blocks];
}

double pitch_reader::read(double code) noexcept {
    on_seconds_ += block_seconds_;
    return late(with_backlash(clipped(bent(constants_.volts(code)))));
}

double pitch_reader::settle(double volts, bool gate_rose, bool step_begins) noexcept {
    since_begin_seconds_ = gate_rose || step_begins ? 0.0 : since_begin_seconds_ + block_seconds_;
    if (gate_rose) {
        stale_share_ += faults_[fault::pitch_stale] / 100.0;
        stale_ = stale_share_ >= 1.0;
        if (stale_) stale_share_ -= 1.0;
    }
    if (!stale_) held_volts_ = volts;
    if (since_begin_seconds_ < early_seconds) {
        return held_volts_ + faults_[fault::pitch_early_read] * volts_per_cent;
    }
    return held_volts_;
}

}  // namespace ferrule
