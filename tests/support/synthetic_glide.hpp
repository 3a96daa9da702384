#pragma once

#include <cstdint>
#include <vector>

#include "analysis/glide.hpp"

/// Exact synthetic glides: additive, with the phase law in closed form or by quadrature.
namespace cvrig::testing {

enum class oscillator { saw, square, blend };
enum class filter_kind { none, ladder, two_pole, unequal_poles };

/// A voice that glides once, and the record of it.
struct synthetic_glide {
    double rate_hz{48000.0};
    double from_hz{110.0}, to_hz{220.0};
    double tau_s{0.022};  ///< or the duration of a linear ramp
    /// An exponential in volts runs this far past its end, most at four time constants.
    double overshoot_cents{0.0};
    double start_s{0.15};
    double length_s{0.5};
    /// If above 0: an exponential in volts has slid from here before, so long before its own start.
    double earlier_from_hz{0.0}, earlier_s{0.15};
    analysis::glide_shape shape{analysis::glide_shape::exponential_in_volts};
    oscillator wave{oscillator::saw};
    double phase_turns{0.0};
    double level_v{1.0};
    double decay_per_s{0.0};
    double snr_db{1e9};   ///< full-band white noise
    double hum_db{-1e9};  ///< 50 Hz, relative to the voice
    double offset_v{0.0};
    filter_kind filter{filter_kind::none};
    double cutoff_hz{1000.0};
    double resonance{0.0};  ///< ladder feedback 0..4, or Q of the two-pole
    double high_pass_hz{0.0};
    /// Octaves by which an envelope has opened the filter at the start, and how fast it closes.
    double sweep_octaves{0.0}, sweep_s{0.2};
    std::uint32_t seed{1};
};

struct glide_record {
    std::vector<double> volts;
    double voice_rms{0.0}, noise_rms{0.0};
};

/// Phase in cycles at a moment by Gauss-Legendre quadrature of the pitch: an independent check of
/// the closed forms. Pitch law as in synthetic_glide, without an
/// earlier glide.
[[nodiscard]] double phase_by_quadrature(const synthetic_glide& g, double t_s);
[[nodiscard]] double pitch_of(const synthetic_glide& g, double t_s);

[[nodiscard]] glide_record render(const synthetic_glide& g);

/// A slide drawn from the wide range in which glides must be read, and what a rig would know of it.
struct drawn_glide {
    synthetic_glide voice;
    analysis::glide_request request;
};
enum class glide_class {
    fixed_amplitudes,          ///< 5-120 ms, 32-1000 Hz, 1-24 semitones, 40/60/80 dB
    fixed_filter,              ///< the same behind a ladder, a two-pole or unequal poles
    typical_fixed_amplitudes,  ///< a bass line: 22 ms, 65-260 Hz, an octave, 80 dB
    typical_fixed_filter,
    moving_filter,  ///< typical, while an envelope closes the filter
};
[[nodiscard]] drawn_glide draw_glide(std::uint32_t seed, glide_class kind);

}  // namespace cvrig::testing
