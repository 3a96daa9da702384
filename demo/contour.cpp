#include "demo/contour.hpp"

#include "demo/block.hpp"

#include <algorithm>
#include <cmath>

namespace ferrule {
namespace {

constexpr double amplitude_decay_seconds = 3.5;
constexpr double release_seconds = 0.008;
constexpr double accented_decay_seconds = 0.2;
constexpr double envelope_octaves = 2.5;

double kept_after(double seconds, double time_constant_seconds) {
    return std::exp(-seconds / std::max(time_constant_seconds, 1e-5));
}

double ratio_of_db(double db) {
    return std::pow(10.0, db / 20.0);
}

}  // namespace

contour::contour(const settings& set, const fault_set& faults, double rate_hertz) noexcept
    : settings_{set},
      ranges_{ranges_of(set.mode)},
      faults_{faults},
      sample_seconds_{1.0 / rate_hertz},
      block_seconds_{static_cast<double>(block_frames) / rate_hertz},
      memory_{faults, block_seconds_},
      accent_jack_{faults, block_seconds_} {}

void contour::strike(const strikes& which) noexcept {
    if (!which.amplitude && !which.filter) return;
    accent_ = memory_.strike(accent_jack_.at_strike());
    const double attack_samples =
        (envelope::attack_seconds + faults_[fault::envelope_attack] / 1000.0) / sample_seconds_;
    if (which.amplitude) {
        amplitude_.drop_to(1.0 - faults_[fault::envelope_click] / 100.0);
        amplitude_.strike(ratio_of_db(accent_.level_db), attack_samples);
    }
    if (which.filter) filter_.strike(1.0, attack_samples);
}

void contour::let_go() noexcept {
    amplitude_.let_go();
    if (gate_seconds_ > 0.0) {
        const double doublings = std::log2(gate_seconds_ / 0.25);
        const double more = 1.0 + faults_[fault::decay_follows_gate_length] / 100.0;
        length_factor_ = std::pow(std::max(more, 0.01), doublings);
    }
    // Far below the noise the tail ends anyway: denormal numbers would cost time for nothing.
    constexpr double inaudible = 1e-9;
    if (amplitude_.level() < std::max(inaudible, faults_[fault::tail_chopped] / 100.0)) {
        amplitude_.drop_to(0.0);
    }
    gate_seconds_ = 0.0;
}

void contour::follow_accent(bool jack_high) noexcept {
    if (!faults_.has(fault::accent_live)) return;
    const double difference_db =
        accent_memory::first_level_db * ((jack_high ? 1.0 : 0.0) - (accent_.accented ? 1.0 : 0.0));
    live_gain_ = ratio_of_db(difference_db);
}

double contour::filter_decay_seconds(double decay_volts) const noexcept {
    if (accent_.accented) {
        return accented_decay_seconds * (1.0 + faults_[fault::accent_decay] / 100.0);
    }
    const double ratio = ranges_.decay_longest_seconds / ranges_.decay_shortest_seconds;
    return ranges_.decay_shortest_seconds * std::pow(ratio, decay_volts / 5.0) *
           (1.0 + faults_[fault::filter_decay] / 100.0);
}

contour::falls contour::falls_for(bool gate, double decay_volts) const noexcept {
    const double amplitude_seconds =
        gate ? amplitude_decay_seconds * (1.0 + faults_[fault::amplitude_decay] / 100.0)
             : release_seconds * (1.0 + faults_[fault::envelope_release] / 100.0) * length_factor_;
    return {kept_after(sample_seconds_, amplitude_seconds),
            kept_after(sample_seconds_, filter_decay_seconds(decay_volts) * length_factor_)};
}

contour::falls contour::follow(const events& now, bool accent_jack, double decay_volts) noexcept {
    events seen = now;
    seen.accent_rose = accent_jack_.watch(accent_jack) && !now.gate_rose;
    memory_.wait();
    strike(strikes_for(settings_.mode, seen, faults_));
    if (now.gate) {
        gate_seconds_ += block_seconds_;
        follow_accent(accent_jack);
    } else {
        let_go();
    }
    return falls_for(now.gate, decay_volts);
}

double contour::filter_octaves() const noexcept {
    return filter_.level() * (envelope_octaves + accent_.brightness_octaves);
}

}  // namespace ferrule
