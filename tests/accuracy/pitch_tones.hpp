#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "tests/support/synthetic_tone.hpp"

namespace cvrig::accuracy {

/// One note of known pitch, its noise included.
struct trial {
    test_support::synthetic_tone tone;
    sample_rate rate{48000.0};
    volts noise_rms{0.0};
    double snr_db{0.0};
    std::string kind;
    std::vector<double> samples_volts;

    [[nodiscard]] seconds length() const {
        return seconds{static_cast<double>(samples_volts.size()) / rate.value()};
    }
    [[nodiscard]] double periods() const { return length().value() * tone.pitch.value(); }
};

/// 432 notes: saw, square, blend; 40, 60, 80 dB of tone over noise; with and without hum; held and
/// decaying; 12 of each, 32 Hz to 2 kHz and 0.06 s to 1 s (log-uniform, at least 3 periods),
/// through a four-pole low-pass from 1 to 30 times the pitch, feedback 0 to 3.6 of 4; offset up to
/// 0.2 V.
[[nodiscard]] std::vector<trial> bench_notes(std::uint64_t seed);

/// 72 noise-free notes that the model cannot describe: every harmonic has a decay of its own, hum
/// at 50, 100 and 150 Hz, mains off by 0.4 %.
[[nodiscard]] std::vector<trial> misfit_notes(std::uint64_t seed);

}  // namespace cvrig::accuracy
