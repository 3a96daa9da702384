#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

namespace cvrig::analysis {

/// Where to look for the pitch, and which hum to expect.
struct tone_request {
    hertz lowest{20.0};
    hertz highest{4000.0};
    hertz mains{50.0};  ///< nominal mains frequency; 0 Hz leaves the mains lines out of the model
    bool may_decay{true};              ///< if not, the amplitude is taken as steady
    std::size_t most_harmonics{4096};  ///< 1 for a sine
};

/// What a steady note is made of. Voltages are at the instrument's input scale.
struct tone_reading {
    hertz pitch;                   ///< fundamental frequency
    hertz u_pitch;                 ///< standard uncertainty of `pitch`
    decibels snr;                  ///< power of the harmonics over power of the residual
    per_second decay;              ///< amplitude falls as exp(-decay t); below 0 it grows
    double periods{0};             ///< periods of the pitch in the record
    std::vector<volts> harmonics;  ///< peak amplitude of harmonic k + 1 at mid-record
    volts dc;
    volts residual_rms;

    [[nodiscard]] cents u_cents() const;
};

/// Pitch of a steady note that may decay, with hum and offset.
///
/// Definition: the frequency of the least-squares fit of
///             dc + hum + exp(-decay t) * sum over k of (a_k cos(2 pi k pitch t) + b_k sin(...))
///             where hum is three lines at 1, 2 and 3 times a mains frequency within 0.4 % of the
///             nominal one. The uncertainty is the Cramer-Rao bound of that model at the residual's
///             power near the harmonics, so that a residual that is not white widens it.
/// Source:     Rife and Boorstyn 1974, "Single-tone parameter estimation from discrete-time
///             observations"; Nielsen et al. 2017, "Fast fundamental frequency estimation";
///             one harmonic without decay and hum is the four-parameter sine fit of IEEE Std 1057.
/// Input:      volts, 2 periods or more of the pitch, 32 samples or more, any rate above twice the
///             highest pitch asked for.
/// Error:      scatter within 15 % of the bound at 40 dB of signal over noise and more
///             (tests/accuracy/pitch_accuracy.cpp).
/// Refuses:    bad_argument (empty range, rate), too_short, not_finite, silent (constant), no_pitch
///             (noise, or nothing but steady lines on the mains frequencies), no_fit (no
///             convergence).
[[nodiscard]] outcome<tone_reading> measure_tone(std::span<const double> volts, sample_rate rate,
                                                 const tone_request& request = {});

}  // namespace cvrig::analysis
