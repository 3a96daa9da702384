#include "demo/gate_reader.hpp"

#include <cmath>

namespace ferrule {

gate_reader::gate_reader(double trip_volts, const fault_set& faults, double block_seconds) noexcept
    : faults_{faults},
      block_seconds_{block_seconds},
      trigger_{trip_volts + faults[fault::gate_threshold],
               trigger::hysteresis_volts * (1.0 - faults[fault::gate_hysteresis_less] / 100.0)} {}

bool gate_reader::polled(double volts) noexcept {
    since_poll_seconds_ += block_seconds_;
    if (since_poll_seconds_ * 1000.0 < faults_[fault::gate_poll]) return seen_;
    since_poll_seconds_ = 0.0;
    const double noise = faults_.has(fault::gate_edge_noise) ? noise_.uniform() : 0.0;
    seen_ = trigger_.read(volts + faults_[fault::gate_edge_noise] * noise) !=
            faults_.has(fault::gate_inverted);
    return seen_;
}

bool gate_reader::debounced(bool high) noexcept {
    unlike_seconds_ = high == counted_ ? 0.0 : unlike_seconds_ + block_seconds_;
    // The block in which the gate moved counts as well.
    if (unlike_seconds_ * 1000.0 > faults_[fault::gate_debounced]) counted_ = high;
    return counted_;
}

bool gate_reader::held(bool high) noexcept {
    since_high_seconds_ = high ? 0.0 : since_high_seconds_ + block_seconds_;
    return since_high_seconds_ * 1000.0 <= faults_[fault::gate_stuck];
}

bool gate_reader::jittered(bool high) noexcept {
    if (high && !steady_ && jitter_left_ == 0) {
        const double random = 0.5 + 0.5 * noise_.uniform();
        jitter_left_ = 1 + static_cast<int>(random * (faults_[fault::strike_jitter] + 1.0));
    }
    if (jitter_left_ > 0) --jitter_left_;
    steady_ = high && (steady_ || jitter_left_ == 0);
    return steady_;
}

bool gate_reader::caught(bool high) noexcept {
    if (high && !was_high_) {
        lost_share_ += faults_[fault::note_lost] / 100.0;
        losing_ = lost_share_ >= 1.0;
        if (losing_) lost_share_ -= 1.0;
    }
    was_high_ = high;
    return high && !losing_;
}

bool gate_reader::bounced(bool high) noexcept {
    constexpr double opens_seconds = 3e-3;
    constexpr double closes_seconds = 6.5e-3;
    since_rise_seconds_ += block_seconds_;
    if (high && !was_held_) {
        since_rise_seconds_ = 0.0;
        bounce_share_ += faults_[fault::gate_bounces] / 100.0;
        bouncing_ = bounce_share_ >= 1.0;
        if (bouncing_) bounce_share_ -= 1.0;
    }
    was_held_ = high;
    const bool open = since_rise_seconds_ >= opens_seconds && since_rise_seconds_ < closes_seconds;
    return high && !(bouncing_ && open);
}

bool gate_reader::read(double volts) noexcept {
    const bool high = bounced(caught(held(debounced(polled(volts)))));
    return faults_.has(fault::strike_jitter) ? jittered(high) : high;
}

}  // namespace ferrule
