#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "tests/coverage/lists.hpp"
#include "tests/coverage/simulated_take.hpp"

namespace cvrig::testing {

namespace {

constexpr double pi = std::numbers::pi;
constexpr int most_harmonics = 20;
constexpr double noise_volts = 2e-3;

/// What the module was drawn to be. A mix of a saw and a pulse whose odd harmonics add in phase,
/// through four poles with feedback, and a line that is no harmonic.
struct drawn_module {
    double square_share, duty, cutoff_over_pitch, feedback, phase, detuned, alias_share,
        alias_of_this_note, alias_phase;

    // Harmonic k, sine phase of the fundamental: odd ones (1 - s) + 2 s cos(pi k e), even ones
    // (1 - s) and in quadrature 2 s sin(pi k e), all times 2 / (pi k).
    [[nodiscard]] std::complex<double> harmonic(int k) const {
        const double off = pi * k * (duty - 0.5);
        const double odd = 1.0 - square_share + 2.0 * square_share * std::cos(off);
        const std::complex<double> even{1.0 - square_share, 2.0 * square_share * std::sin(off)};
        const std::complex<double> wave = k % 2 == 1 ? std::complex<double>{odd, 0.0} : even;
        const std::complex<double> pole{1.0, k / cutoff_over_pitch};
        const auto filter = (1.0 + feedback) / (pole * pole * pole * pole + feedback);
        return 2.0 / (pi * k) * wave * filter * std::polar(1.0, k * phase - pi / 2.0);
    }
    [[nodiscard]] double power(int harmonics) const {
        double sum = 0.0;
        for (int k = 1; k <= harmonics; ++k) sum += std::norm(harmonic(k));
        return sum;
    }
};

std::vector<double> sound_of(const drawn_module& module, double pitch_hz, std::size_t samples,
                             sample_rate rate) {
    std::vector<double> out(samples);
    const int harmonics = std::min(most_harmonics, static_cast<int>(20000.0 / pitch_hz));
    for (int k = 1; k <= harmonics; ++k) {
        const auto turn = std::polar(1.0, 2.0 * pi * k * pitch_hz / rate.value());
        auto now = module.harmonic(k);
        for (double& v : out) {
            v += now.real();
            now *= turn;
        }
    }
    // Only a high note has harmonics that fold.
    if (pitch_hz < 1000.0) return out;
    const double alias =
        module.alias_share * module.alias_of_this_note * std::sqrt(module.power(harmonics));
    for (std::size_t i = 0; i < samples; ++i)
        out[i] +=
            alias * std::cos(2.0 * pi * 3.37 * pitch_hz * static_cast<double>(i) / rate.value() +
                             module.alias_phase);
    return out;
}

// Of the first 13 harmonics, as the check counts them: by 1/k^2, relative to the odd ones.
double true_distance_db(const drawn_module& module, double even_of_wave) {
    double left = 0.0;
    double whole = 0.0;
    const double odd = 1.0 + module.square_share;
    for (int k = 1; k <= 13; ++k) {
        const double w = 1.0 / (static_cast<double>(k) * k);
        const double share = k % 2 == 1 ? 1.0 : (1.0 - module.square_share) / odd;
        const double wave = k % 2 == 1 ? 1.0 : even_of_wave;
        left += w * (share - wave) * (share - wave);
        whole += w * wave * wave;
    }
    return 10.0 * std::log10(left / whole);
}

double truth_of(const std::string& key, const drawn_module& module) {
    const double even = (1.0 - module.square_share) / (1.0 + module.square_share);
    if (key == "square share") return 100.0 * module.square_share;
    if (key == "even-odd balance") return 20.0 * std::log10(even);
    if (key == "duty") return 100.0 * module.duty;
    if (key == "distance") return true_distance_db(module, 1.0 / 3.0);
    return 20.0 * std::log10(module.alias_share);
}

std::optional<trial> simulate(const std::string& key, std::uint64_t seed) {
    simulated_desk desk{"waveform", {key}, seed};
    const bool of_square = key == "duty";
    const drawn_module module{.square_share = of_square ? 1.0 : desk.uniform(0.4, 0.6),
                              .duty = of_square ? desk.uniform(0.47, 0.53) : 0.5,
                              .cutoff_over_pitch = desk.uniform(30.0, 80.0),
                              .feedback = desk.uniform(0.0, 1.5),
                              .phase = desk.uniform(0.0, 2.0 * pi),
                              .detuned = std::exp2(desk.normal(2.0) / 1200.0),
                              .alias_share = std::pow(10.0, desk.uniform(-55.0, -40.0) / 20.0),
                              // From strike to strike by 1 dB, as the check states.
                              .alias_of_this_note = std::pow(10.0, desk.normal(1.0) / 20.0),
                              .alias_phase = desk.uniform(0.0, 2.0 * pi)};
    const double gain = std::pow(10.0, desk.normal(0.0087) / 20.0);
    const auto result = desk.judge(
        [&](const passage& asked, std::size_t samples, sample_rate rate) {
            const hertz pitch = desk.module.pitch.pitch(asked.steps.back().pitch);
            auto one = sound_of(module, pitch.value() * module.detuned, samples, rate);
            for (double& v : one) v *= gain;
            return std::vector<std::vector<double>>{one, one};
        },
        noise_volts);
    const auto* found = result.find(key);
    if (found == nullptr || found->all.empty()) return std::nullopt;
    const auto& r = found->all.front();
    return trial_of(truth_of(key, module), r);
}

}  // namespace

std::vector<covered_quantity> waveform_coverage() {
    std::vector<covered_quantity> out;
    for (const std::string key :
         {"square share", "even-odd balance", "duty", "distance", "aliases"})
        out.push_back({"waveform", key, [key](std::uint64_t seed) { return simulate(key, seed); }});
    return out;
}

}  // namespace cvrig::testing
