#include "tests/coverage/simulated_voice.hpp"

#include <array>
#include <cmath>
#include <complex>
#include <numbers>
#include <span>

namespace cvrig::testing {

namespace {

// Harmonics 1 to n of a saw by the recurrence of Chebyshev polynomials.
double saw(double phase_cycles, std::size_t harmonics, std::span<const double> off) {
    const double w = 2.0 * std::numbers::pi * phase_cycles;
    const double twice_cosine = 2.0 * std::cos(w);
    double before = 0.0, now = std::sin(w), sum = 0.0;
    for (std::size_t n = 1; n <= harmonics; ++n) {
        const double share = n <= off.size() ? 1.0 + off[n - 1] : 1.0;
        sum += share * now / static_cast<double>(n);
        const double next = twice_cosine * now - before;
        before = now;
        now = next;
    }
    return 2.0 / std::numbers::pi * sum;
}

// Four equal poles by the trapezoidal rule, with feedback around them; linear.
class four_poles {
public:
    double next(double in, double cutoff_over_rate, double feedback) {
        const double g = std::tan(std::numbers::pi * std::min(cutoff_over_rate, 0.45));
        const double pole = g / (1.0 + g);
        double held = 0.0;  // what the states alone give at the output
        for (const double s : states_) held = pole * held + s / (1.0 + g);
        const double loop = feedback * std::pow(pole, 4.0);
        double x = (in * (1.0 + feedback) - feedback * held) / (1.0 + loop);
        for (double& s : states_) {
            const double v = (x - s) * pole;
            x = v + s;
            s = x + v;
        }
        return x;
    }

private:
    std::array<double, 4> states_{};
};

// What the voice is doing at the moment.
struct state {
    double phase_cycles;
    double octaves{0.0};  ///< of the pitch above 1 Hz
    double heard{0.0};    ///< the same behind the pole that follows
    double goal{0.0};     ///< of the step that is under way
    double tau_s{0.0};    ///< with which it is approached
    double envelope{0.0};
    double attack_left_s{0.0};
    bool sounding{false};
};

}  // namespace

std::vector<std::vector<double>> simulated_voice::sound(const passage& asked, std::size_t samples,
                                                        sample_rate rate) const {
    std::vector<double> one(samples, 0.0);
    const double dt = 1.0 / rate.value();
    const double decay = std::exp(-dt / decay_s), release = std::exp(-dt / release_s);
    state now{.phase_cycles = start_phase_cycles};
    double accent = 1.0;
    four_poles filter;
    const step* struck = nullptr;
    std::size_t at = 0, struck_at = 0;
    seconds end{0.0};
    for (std::size_t index = 0; index <= asked.steps.size(); ++index) {
        const bool over = index == asked.steps.size();
        const step& s = over ? asked.steps.back() : asked.steps[index];
        const bool gate = !over && s.gate;
        const bool tied = gate && now.sounding;
        const double late_s =
            index < step_late_samples.size() ? step_late_samples[index] * dt : 0.0;
        const double target = std::log2(pitch(s, index).value());
        const double tau = tied ? (s.slide ? slide_tau_s : step_tau_s) : 0.0;
        const double short_of = tied && s.slide ? stops_short_cents / 1200.0 : 0.0;
        const double goal = target + (now.octaves > target ? short_of : -short_of);
        // The mean pitch of a sample, so that the phase is exact whatever the rate.
        const double keep = tau > 0.0 ? std::exp(-dt / tau) : 0.0;
        const double keep_heard =
            tau > 0.0 && pitch_lag_s > 0.0 ? std::exp(-dt / pitch_lag_s) : 0.0;
        // Until a step is seen, the one before goes on.
        if (tied && now.tau_s > 0.0)
            now.octaves = now.goal + (now.octaves - now.goal) * std::exp(-late_s / now.tau_s);
        if (tau <= 0.0) now.octaves = now.heard = goal;
        now.goal = goal;
        now.tau_s = tau;
        const double way = goal - now.octaves;
        const double beyond = tied && s.slide ? std::copysign(overshoot_cents / 1200.0, way) : 0.0;
        bool turned = beyond == 0.0;
        double begin_octaves = 0.0;
        double since_s = 0.0;
        const double keep_first = tau > 0.0 ? std::exp(-(dt - late_s) / tau) : 0.0;
        const auto first = at;
        if (gate && !tied) {
            now.attack_left_s = attack_s;
            if (begins_off) begin_octaves = begins_off().value() / 1200.0;
            const double louder = louder_db ? louder_db(s, index) : s.accent ? accent_db : 0.0;
            accent = std::pow(10.0, louder / 20.0);
            struck_at = at;
            struck = &s;
        }
        now.sounding = gate;
        if (!over) end += s.length;
        const auto last =
            over ? samples
                 : std::min(samples,
                            static_cast<std::size_t>(std::llround(end.value() * rate.value())));
        for (; at < last; ++at) {
            if (now.attack_left_s > 0.0) {
                now.envelope = 1.0 - now.attack_left_s / attack_s;
                now.attack_left_s -= dt;
            }
            double wave = saw(now.phase_cycles, harmonics, harmonics_off);
            if (cutoff) {
                const step& of = struck == nullptr ? s : *struck;
                const double open_s =
                    struck == nullptr ? 10.0 : static_cast<double>(at - struck_at) * dt;
                const double over_rate = cutoff(of, open_s).value() * dt / filter_runs;
                wave = filter.next(wave, over_rate, feedback);
                for (int run = 1; run < filter_runs; ++run) {
                    const double on = std::exp2(now.octaves) * dt * run / filter_runs;
                    (void)filter.next(saw(now.phase_cycles + on, harmonics, harmonics_off),
                                      over_rate, feedback);
                }
            }
            one[at] = level_volts * accent * now.envelope * wave;
            now.envelope *= gate ? decay : release;
            const double aim = turned ? goal : goal + 2.0 * beyond;
            const double next = aim + (now.octaves - aim) * (at == first ? keep_first : keep);
            turned = turned || (next - goal - beyond) * way >= 0.0;
            const double extra = since_s < 0.020 ? begin_octaves : 0.0;
            const double heard = next + (now.heard - next) * keep_heard;
            now.phase_cycles += dt * std::exp2(0.5 * (now.heard + heard) + extra);
            now.octaves = next;
            now.heard = heard;
            since_s += dt;
        }
    }
    std::vector<std::vector<double>> out;
    for (const double gain : gains) {
        out.push_back(one);
        for (auto& v : out.back()) v = gain * (v + dc_volts);
    }
    return out;
}

double centroid_through(const simulated_voice& voice, hertz pitch, hertz cutoff) {
    double sum = 0.0, weighted = 0.0;
    for (std::size_t n = 1; n <= voice.harmonics; ++n) {
        const std::complex<double> pole{1.0, static_cast<double>(n) * (pitch / cutoff)};
        const double gain = (1.0 + voice.feedback) / std::abs(std::pow(pole, 4.0) + voice.feedback);
        sum += gain / static_cast<double>(n);
        weighted += gain;
    }
    return weighted / sum;
}

pitch_bench_error draw_pitch_error(simulated_desk& desk) {
    double u = 0.0;
    for (const auto& output : desk.desk.outputs)
        if (output.jack == "pitch") u = output.u.value();
    return {desk.normal(u), desk.normal(u)};
}

}  // namespace cvrig::testing
