#pragma once

#include <complex>
#include <vector>

#include "analysis/line_reader.hpp"
#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// Which of the classic waves a held note is made of, whatever smooth filter it went through.
namespace cvrig::analysis {

/// Saw and square share their odd harmonics, 1/k; they differ in the even ones: in the saw those
/// are there and in phase with the odd ones, in the square they are missing.
enum class classic_wave { saw, blend, square };

/// Harmonic k as `share`: its amplitude times k, relative to what the odd harmonics and the filter
/// would make of 1/k. 1 for every harmonic of a saw, in phase; 0 for the even ones of a square;
/// the even ones of an asymmetrical square stand in quadrature.
struct profile_harmonic {
    int number;
    std::complex<double> share;
    double u;             ///< standard deviation of each component of share, by noise
    volts peak;           ///< as it was heard
    volts filtered_peak;  ///< what a saw with these odd harmonics would give here
};

/// A number and its standard uncertainty, both in its unit.
struct profile_reading {
    double value;
    double u;
};

struct wave_profile {
    hertz pitch;
    std::vector<profile_harmonic> harmonics;
    /// Of the even shares, relative: their common factor, which the odd harmonics decide, and what the
    /// filter is not, where the odd ones show it.
    double u_odd_share;
    double
        misfit_power;  ///< by which the odd ones' shares depart from 1 beyond noise, weighted by 1/k^2
    /// Share of its period in which the wave is high, in per cent, if it is a square: its even
    /// harmonics are then as sin(pi k (d - 1/2)), its odd ones as the cosine.
    profile_reading high_share;
};

/// The profile of a steady note.
///
/// Definition: the amplitude and phase of each harmonic from a line_reader; from the odd ones alone
///             a smooth filter is fitted and divided out. Its magnitude is exp(c0 + c1 k^2 + c2
///             k^4): three parameters, one of them the level; its phase is a time shift, a
///             high-pass term 1/k and a cubic term: three more. The even harmonics have no part in
///             the fit, so that it can explain none of them away. Harmonics count by their power,
///             as white noise decides. Their noise is read at places between them, so that whatever
///             disturbs there widens it.
/// Source:     Fourier series of saw, square and pulse: 1/k; 1/k for odd k; sin(pi k d)/k (such as
///             I. N. Bronshtein, K. A. Semendyayev, "Handbook of Mathematics", table of Fourier
///             expansions; Oppenheim and Willsky, "Signals and Systems", 2nd ed., table 4.2;
///             both from memory).
/// Input:      the spectrum of a steady note; `count` harmonics, 9 to 40, all below 0.42 of the
///             rate; 24 bins or more between harmonics.
/// Error:      1e-3 of share for a saw through four poles at 30 times the pitch
///             (tests/analysis/wave_profile_test.cpp).
/// Refuses:    bad_argument, too_short (harmonics too close), silent (fundamental not over noise).
[[nodiscard]] outcome<wave_profile> profile_of(const line_reader& spectrum, hertz pitch, int count);

/// In-phase part of the even shares: 1 saw, 1/3 half-way blend, 0 square; the same for a rising and
/// a falling saw.
[[nodiscard]] profile_reading even_share(const wave_profile& of);

/// Share of the square in a mix of saw and square of equal height whose harmonics add in phase, in
/// per cent: 100 (1 - e) / (1 + e) of the even share e.
[[nodiscard]] profile_reading square_share_percent(const wave_profile& of);

/// Power of the even harmonics against the odd ones, each set relative to a saw's, in decibels: 0
/// saw, -9.54 half-way blend. A balance that noise hides reads as high as noise could make it.
[[nodiscard]] profile_reading even_odd_balance_db(const wave_profile& of);

/// What is left when a wave is taken away from the profile, over that wave, in decibels of power.
[[nodiscard]] profile_reading distance_db(const wave_profile& from, classic_wave to);

/// The even share that a wave has by its Fourier series.
[[nodiscard]] double even_share_of(classic_wave which) noexcept;

}  // namespace cvrig::analysis
