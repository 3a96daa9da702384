#include "tests/support/synthetic_voice.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

namespace cvrig::testing {
namespace {

/// Rises at the attack's pace to its target, then falls by its law. `speed` scales time.
class falling_envelope {
public:
    falling_envelope(const envelope_shape& shape, double rate_hz)
        : shape_{shape}, dt_{1.0 / rate_hz} {}

    void strike(double share, bool from_zero) {
        target_ = value() + share * (1.0 - value());
        if (from_zero) fast_ = slow_ = 0.0;
        rising_ = share > 0.0;
    }

    double next(double speed) {
        if (rising_) {
            rise();
        } else {
            fall(speed * dt_);
        }
        return value();
    }

private:
    [[nodiscard]] double value() const { return fast_ + slow_; }

    void rise() {
        const double to = std::min(target_, value() + dt_ / shape_.attack_s);
        const bool two = shape_.law == decay_law::quick_then_slow;
        slow_ = two ? 0.7 * to : to;
        fast_ = two ? 0.3 * to : 0.0;
        rising_ = to < target_;
    }

    void fall(double dt) {
        const double gone = dt / shape_.decay_s;
        switch (shape_.law) {
            case decay_law::exponential:
                slow_ *= 1.0 - gone;
                break;
            case decay_law::quick_then_slow:
                slow_ *= 1.0 - gone;
                fast_ *= 1.0 - 4.0 * gone;
                break;
            case decay_law::straight_end:
                slow_ = std::max(0.0, slow_ - gone * std::pow(slow_, 0.7));
                break;
        }
    }

    envelope_shape shape_;
    double dt_;
    double fast_{0.0}, slow_{0.0}, target_{0.0};
    bool rising_{false};
};

/// Saw, or pulse as the difference of two saws, with two-sample polynomial steps.
class oscillator {
public:
    oscillator(double pulse_width, double phase) : width_{pulse_width}, phase_{phase} {}

    double next(double cycles_per_sample) {
        phase_ += cycles_per_sample;
        phase_ -= std::floor(phase_);
        if (width_ <= 0.0) return saw(phase_, cycles_per_sample);
        const double other = phase_ + width_;
        return saw(phase_, cycles_per_sample) - saw(other - std::floor(other), cycles_per_sample);
    }

private:
    static double saw(double p, double d) {
        double y = 2.0 * p - 1.0;
        if (p < d) {
            const double x = p / d;
            y -= x + x - x * x - 1.0;
        } else if (p > 1.0 - d) {
            const double x = (p - 1.0) / d;
            y -= x * x + x + x + 1.0;
        }
        return y;
    }

    double width_;
    double phase_;
};

/// Two-pole low-pass, trapezoidal integration, free to move every sample.
class low_pass {
public:
    double next(double x, double g, double damping) {
        const double a = 1.0 / (1.0 + g * (g + damping));
        const double v3 = x - s2_;
        const double v1 = a * (s1_ + g * v3);
        const double v2 = s2_ + g * v1;
        s1_ = 2.0 * v1 - s1_;
        s2_ = 2.0 * v2 - s2_;
        return v2;
    }

private:
    double s1_{0.0}, s2_{0.0};
};

double cutoff_hz(const synthetic_voice& v, double envelope, double octaves_up) {
    const double resting = v.resting_hz * std::exp2(v.key_tracking * octaves_up);
    const double open = std::exp2(v.opening_octaves);
    const double f = v.opens_in_hertz ? resting * (1.0 + (open - 1.0) * envelope)
                                      : resting * std::exp2(v.opening_octaves * envelope);
    return std::min(f, 0.4 * v.rate_hz);
}

double pitch_of(const played_note& n, double t) {
    if (n.step_at_s < 0.0 || t < n.step_at_s) return n.from_hz;
    if (n.glide_s <= 0.0) return n.to_hz;
    return n.to_hz * std::pow(n.from_hz / n.to_hz, std::exp(-(t - n.step_at_s) / n.glide_s));
}

double uniform(std::mt19937_64& random, double low, double high) {
    return std::uniform_real_distribution<double>{low, high}(random);
}

double log_uniform(std::mt19937_64& random, double low, double high) {
    return std::exp(uniform(random, std::log(low), std::log(high)));
}

}  // namespace

std::vector<double> play(const synthetic_voice& v, const played_note& n) {
    std::mt19937_64 random{n.seed};
    std::normal_distribution<double> normal;
    oscillator source{v.pulse_width, uniform(random, 0.0, 1.0)};
    falling_envelope amplitude{v.amplitude, v.rate_hz};
    falling_envelope filter{v.filter, v.rate_hz};
    low_pass first, second;
    const double spread = 1.0 + v.strike_spread * normal(random);
    const auto sample_of = [&](double t) {
        return static_cast<std::ptrdiff_t>(std::lround(t * v.rate_hz));
    };
    const auto strike_at = sample_of(n.struck_at_s);
    const auto step_at = n.step_at_s < 0.0 ? -1 : sample_of(n.step_at_s);
    const auto again_at = n.step_at_s < 0.0 ? -1 : sample_of(n.step_at_s + n.late_s);

    std::vector<double> out(static_cast<std::size_t>(sample_of(n.length_s)));
    for (std::ptrdiff_t i = 0; i < static_cast<std::ptrdiff_t>(out.size()); ++i) {
        if (i == strike_at) {
            amplitude.strike(1.0, false);
            filter.strike(1.0, false);
        }
        if (i == again_at) {
            if (n.amplitude_again > 0.0) amplitude.strike(n.amplitude_again, n.from_zero);
            if (n.filter_again > 0.0) filter.strike(n.filter_again, false);
        }
        const double pitch = pitch_of(n, static_cast<double>(i) / v.rate_hz);
        const double up = std::log2(pitch / 110.0);
        const double speed = std::exp2(v.decay_per_octave * up);
        const double g =
            std::tan(std::numbers::pi * cutoff_hz(v, filter.next(speed), up) / v.rate_hz);
        double x = source.next(pitch / v.rate_hz);
        x = first.next(x, g, 1.0 / v.q);
        if (v.poles == 4) x = second.next(x, g, 1.4);
        const double level =
            v.level_v * spread * std::pow(10.0, v.loudness_db_per_octave * up / 20.0);
        double& y = out[static_cast<std::size_t>(i)];
        y = level * amplitude.next(speed) * x + v.noise_v * normal(random);
        if (i == step_at) y += n.click_v;
    }
    return out;
}

std::vector<double> play_silence(const synthetic_voice& v, double length_s, std::uint64_t seed) {
    played_note note;
    note.struck_at_s = length_s + 1.0;
    note.length_s = length_s;
    note.seed = seed;
    return play(v, note);
}

synthetic_voice random_voice(std::uint64_t seed, double lowest_hz) {
    std::mt19937_64 random{seed};
    const auto law = [&] { return static_cast<decay_law>(random() % 3); };
    const auto chance = [&](double p) { return uniform(random, 0.0, 1.0) < p; };
    synthetic_voice v;
    v.pulse_width = chance(0.5) ? 0.0 : (chance(0.5) ? 0.5 : uniform(random, 0.15, 0.5));
    v.amplitude = {log_uniform(random, 0.001, 0.006), log_uniform(random, 0.06, 4.0), law()};
    v.filter = {log_uniform(random, 0.001, 0.006), log_uniform(random, 0.04, 2.0), law()};
    v.resting_hz = lowest_hz * uniform(random, 3.0, 8.0);
    v.opening_octaves = uniform(random, 1.0, 4.0);
    v.opens_in_hertz = chance(0.3);
    v.q = log_uniform(random, 0.6, 4.0);
    v.poles = chance(0.5) ? 2 : 4;
    v.key_tracking = chance(0.3) ? uniform(random, 0.0, 1.0) : 0.0;
    v.decay_per_octave = chance(0.3) ? uniform(random, -0.5, 0.5) : 0.0;
    v.loudness_db_per_octave = chance(0.3) ? uniform(random, -3.0, 3.0) : 0.0;
    v.level_v = log_uniform(random, 0.1, 3.0);
    v.noise_v = v.level_v * std::pow(10.0, -uniform(random, 45.0, 80.0) / 20.0);
    return v;
}

}  // namespace cvrig::testing
