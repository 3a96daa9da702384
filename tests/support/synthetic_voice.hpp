#pragma once

#include <cstdint>
#include <vector>

/// A small bass voice for tests only, written independently of the measurements: band-limited-step
/// oscillator, state-variable low-pass filter, two envelopes, glide, noise. Plain numbers; units in
/// the names.
namespace cvrig::testing {

enum class decay_law { exponential, quick_then_slow, straight_end };

struct envelope_shape {
    double attack_s;
    double decay_s;
    decay_law law;
};

struct synthetic_voice {
    double rate_hz{48000.0};
    double pulse_width{0.0};  ///< 0: saw
    envelope_shape amplitude{0.003, 0.5, decay_law::exponential};
    envelope_shape filter{0.003, 0.3, decay_law::exponential};
    double resting_hz{600.0};
    double opening_octaves{3.0};
    bool opens_in_hertz{false};
    double q{0.8};
    int poles{4};
    double key_tracking{0.0};      ///< octaves of cutoff per octave of pitch, above 110 Hz
    double decay_per_octave{0.0};  ///< octaves of decay rate per octave of pitch, above 110 Hz
    double loudness_db_per_octave{0.0};
    double level_v{1.0};
    double noise_v{0.0003};
    double strike_spread{0.002};  ///< rms of the relative level of one strike against another
};

struct played_note {
    double from_hz{110.0};
    double to_hz{110.0};
    double glide_s{0.0};  ///< time constant, exponential in octaves
    double struck_at_s{0.1};
    double step_at_s{-1.0};       ///< below 0: plain note
    double amplitude_again{0.0};  ///< share of the envelope that the step strikes again
    double filter_again{0.0};
    double late_s{0.0};     ///< of the strike after the step
    bool from_zero{false};  ///< the amplitude drops to 0 first
    double click_v{0.0};    ///< height of one sample at the step
    double length_s{1.0};
    std::uint64_t seed{1};  ///< noise, oscillator phase, spread
};

[[nodiscard]] std::vector<double> play(const synthetic_voice& voice, const played_note& note);
[[nodiscard]] std::vector<double> play_silence(const synthetic_voice& voice, double length_s,
                                               std::uint64_t seed);

/// A voice drawn at random: filter resting at 3 to 8 times `lowest_hz`, decays of every speed.
[[nodiscard]] synthetic_voice random_voice(std::uint64_t seed, double lowest_hz);

}  // namespace cvrig::testing
