#include "tests/accuracy/pitch_tones.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace cvrig::accuracy {
namespace {

using test_support::seeded_draw;
using test_support::waveform;

struct named_wave {
    waveform wave;
    const char* name;
};
constexpr std::array<named_wave, 3> waves{
    {{waveform::saw, "saw"}, {waveform::square, "square"}, {waveform::blend, "blend"}}};

test_support::hum_lines drawn_hum(seeded_draw& draw, double rms_volts, double mains_error) {
    test_support::hum_lines hum{hertz{50.0 * (1.0 + mains_error)}, {}};
    for (const double share : {1.0, 0.3, 0.5})
        hum.peaks.emplace_back(rms_volts * share * draw.log_uniform(0.003, 0.05));
    return hum;
}

trial drawn_note(seeded_draw& draw, const named_wave& wave, bool decays) {
    trial t;
    t.tone.pitch = hertz{draw.log_uniform(32.0, 2000.0)};
    const double length = std::max(draw.log_uniform(0.06, 1.0), 3.0 / t.tone.pitch.value());
    const test_support::ladder_filter filter{
        hertz{std::min(t.tone.pitch.value() * draw.log_uniform(1.0, 30.0), 16000.0)},
        draw.uniform(0.0, 3.6)};
    t.tone.harmonics_volts = test_support::filtered_wave(wave.wave, t.tone.pitch, filter,
                                                         hertz{23500.0}, draw.uniform(0.0, 6.28));
    t.tone.dc = volts{draw.uniform(-0.2, 0.2)};
    if (decays) t.tone.decay = per_second{1.0 / draw.log_uniform(0.1, 1.0)};
    t.kind = wave.name;
    t.samples_volts.resize(static_cast<std::size_t>(length * t.rate.value()));
    return t;
}

double tone_rms(const trial& t) {
    auto bare = t.tone;
    bare.dc = volts{0.0};
    bare.hum = {};
    return test_support::rms(test_support::rendered_volts(bare, t.rate, t.samples_volts.size()));
}

}  // namespace

std::vector<trial> bench_notes(std::uint64_t seed) {
    seeded_draw draw{seed};
    std::vector<trial> all;
    for (const auto& wave : waves)
        for (const double snr_db : {40.0, 60.0, 80.0})
            for (const bool hum : {false, true})
                for (const bool decays : {false, true})
                    for (int i = 0; i < 12; ++i) {
                        trial t = drawn_note(draw, wave, decays);
                        const double level = tone_rms(t);
                        if (hum) t.tone.hum = drawn_hum(draw, level, draw.uniform(-0.004, 0.004));
                        t.snr_db = snr_db;
                        t.noise_rms = volts{level * std::pow(10.0, -snr_db / 20.0)};
                        t.kind += std::string{hum ? " hum" : ""} + (decays ? " decay" : "");
                        t.samples_volts = test_support::sum(
                            test_support::rendered_volts(t.tone, t.rate, t.samples_volts.size()),
                            test_support::white_noise(t.samples_volts.size(), t.noise_rms,
                                                      seed * 1000003U + all.size()));
                        all.push_back(std::move(t));
                    }
    return all;
}

std::vector<trial> misfit_notes(std::uint64_t seed) {
    seeded_draw draw{seed};
    std::vector<trial> all;
    for (const auto& wave : waves)
        for (int i = 0; i < 24; ++i) {
            trial t = drawn_note(draw, wave, true);
            // Higher harmonics fall faster, as under a closing filter, with some scatter.
            for (std::size_t k = 0; k < t.tone.harmonics_volts.size(); ++k)
                t.tone.own_decays.emplace_back(std::sqrt(static_cast<double>(k)) *
                                               draw.uniform(0.2, 1.0));
            t.tone.hum = drawn_hum(draw, tone_rms(t), i % 2 == 0 ? 0.004 : -0.004);
            t.samples_volts = test_support::rendered_volts(t.tone, t.rate, t.samples_volts.size());
            all.push_back(std::move(t));
        }
    return all;
}

}  // namespace cvrig::accuracy
