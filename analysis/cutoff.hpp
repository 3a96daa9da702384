#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// The cutoff of a low-pass filter, from what it leaves of the harmonics of a note.
namespace cvrig::analysis {

/// One harmonic of a note, before or behind the filter.
struct harmonic_level {
    std::size_t number{1};  ///< 1 is the fundamental
    volts peak;             ///< amplitude of the sine
    volts u_peak;           ///< standard uncertainty of `peak` from noise and its neighbours
    volts u_noise{0.0};     ///< part of it: noise; its neighbours leak again from the same note
};

/// Numbers of harmonics that lie about evenly in the ear's sense: 1 to 6, then a fifth further each.
///
/// Input:      the highest frequency wanted; harmonics above it are left out.
[[nodiscard]] std::vector<std::size_t> harmonics_up_to(hertz highest, hertz pitch);

/// Levels of some harmonics of a steady or slowly decaying note.
///
/// Definition: 2/sum(w) |sum w x exp(-2 pi i n pitch t)| with a window w over the most whole periods,
///             centred in the record: boxes of whole periods convolved with each other, four of them
///             or as many as there are periods. Its zeros on the other harmonics are of that order, so
///             that a harmonic whose level or phase changes hardly leaks into the others.
/// Source:     F. J. Harris, "On the use of windows for harmonic analysis with the discrete Fourier
///             transform", Proc. IEEE 66(1), 1978: the triangle (two equal boxes) and the window of
///             de la Vallee Poussin (four), their zeros.
/// Input:      volts, 2 periods or more; harmonics from 1 up, each below half the rate. `noise` is
///             the rms of what is no part of the note.
/// Error:      1e-4 of the loudest neighbour for 2 periods, 1e-5 for 3 and more
///             (tests/analysis/cutoff_test.cpp).
/// Refuses:    bad_argument, not_finite, too_short, silent (all samples 0).
[[nodiscard]] outcome<std::vector<harmonic_level>> windowed_levels(
    std::span<const double> samples_volts, sample_rate rate, hertz pitch,
    std::span<const std::size_t> numbers, volts noise);

/// Standard deviation of that window's weights about its centre, over so many whole periods: a box of
/// length n has the variance n^2 / 12, and variances of what is convolved add (standard mathematics).
[[nodiscard]] seconds harmonic_window_deviation(std::size_t periods, hertz pitch);

/// What is known before of a note's level: what a harmonic would have whose level at the source is
/// 1 V, far below the cutoff.
struct known_gain {
    double gain{1.0};
    double u_relative{0.01};
    double u_noise{0.0};  ///< part of it, relative: noise
};

struct cutoff_request {
    hertz pitch;
    /// Relative standard uncertainty of each harmonic's level at the source: how far the wave may
    /// be from what it is taken for.
    double relative_u_source{0.005};
    std::optional<known_gain> gain{};
};

struct cutoff_reading {
    hertz cutoff;    ///< where `beyond`: the highest frequency that was heard, and no more
    hertz u_cutoff;  ///< standard uncertainty; 0 where `beyond`
    hertz
        u_noise;  ///< part of it: noise; the rest comes from the wave, and again with the same one
    /// The cutoff lies above every harmonic that was heard: it is at least `cutoff`.
    bool beyond{false};
    double gain{0.0};  ///< level over level at the source, far below the cutoff
    double u_gain{0.0};
    double misfit_ratio{0.0};  ///< rms of the residuals over what they should be; 1 for a good fit
    std::size_t harmonics_used{0};
};

/// Cutoff of an all-pole low-pass filter of order 4 or less, with or without resonance.
///
/// Definition: the highest frequency at which the gain is 3.0103 dB (a factor of sqrt 2) below that
///             far under the cutoff, of the filter whose 1/|H|^2 is a polynomial of degree 4 or less
///             in the square of frequency: that of every all-pole low-pass. It is no pole frequency:
///             n equal poles at f have their cutoff at f sqrt(2^(1/n) - 1).
/// Source:     the half-power definition of the cutoff (common practice, IEC 60268-3 from memory);
///             equal poles: W.-K. Chen (ed.), "The Circuits and Filters Handbook" (from memory).
/// Input:      levels behind the filter, and those of the same harmonics at the source (for a
///             sawtooth 1/n), in any common unit; 3 or more that stand out by 20 dB.
/// Error:      u from noise and source, widened by the residuals. Order and resonance are found,
///             not asked for (tests/analysis/cutoff_test.cpp: orders 1 to 4, within 0.1 % without
///             noise).
/// Refuses:    too_short (fewer harmonics), silent, bad_argument, no_fit (not a low-pass: the gain
///             does not fall, or departs from every such filter by more than 10 times what it may).
[[nodiscard]] outcome<cutoff_reading> measure_cutoff(std::span<const harmonic_level> heard,
                                                     std::span<const double> source_volts,
                                                     const cutoff_request& request);

}  // namespace cvrig::analysis
