#pragma once

#include <complex>
#include <cstddef>
#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// Pitch-synchronous harmonics: the sound is resampled to a fixed number of points per *cycle*,
/// whatever the pitch does meanwhile, and whole cycles are folded into one before its Fourier
/// transform. So a harmonic falls on its line exactly, during a glide as on a held note.
namespace cvrig::analysis {

/// Pitch against time: straight lines between evenly spaced knots, constant beyond both ends.
struct pitch_line {
    seconds start;
    seconds spacing;
    std::vector<double> pitch_hz;  ///< at least one knot, all above 0
};

[[nodiscard]] pitch_line constant_pitch(hertz pitch);
[[nodiscard]] hertz pitch_at(const pitch_line& line, seconds at) noexcept;

/// How cycles are cut: a Hann window over `cycles` whole cycles of `points` points each.
struct cycle_plan {
    std::size_t cycles;
    std::size_t points;     ///< a power of two
    std::size_t harmonics;  ///< lines kept, the fundamental being the first
};

/// `density` is the wanted points per second as a multiple of the sample rate (the next lower power
/// of two per cycle is taken); harmonics are kept up to `top`.
struct cycle_request {
    hertz lowest;   ///< sets the window
    hertz highest;  ///< sets the points per cycle
    seconds window;
    double density;
    hertz top;
};
[[nodiscard]] cycle_plan plan_cycles(const cycle_request& request, sample_rate rate) noexcept;

/// Half of the window's length at that pitch.
[[nodiscard]] seconds half_window(const cycle_plan& plan, hertz pitch) noexcept;

/// Complex peak amplitudes in volts, frame by frame; the phase of line 1 is against the pitch line.
struct harmonic_frames {
    std::size_t harmonics;
    std::vector<std::complex<double>> lines_v;  ///< frames x harmonics

    [[nodiscard]] std::size_t size() const noexcept { return lines_v.size() / harmonics; }
    [[nodiscard]] std::span<const std::complex<double>> frame(std::size_t i) const noexcept {
        return std::span{lines_v}.subspan(i * harmonics, harmonics);
    }
};

/// Harmonics in windows centred at `at_s` (seconds from the first sample, ascending). What lies
/// outside the record counts as silence.
///
/// Definition: c_k = (4 / (n M)) sum w_j x_j exp(-2 pi i j k / M), w Hann over n cycles of M
///             points.
/// Error:      frames are centred within half a point (1 / (2 M f)); amplitude as in
///             `line_response`.
[[nodiscard]] harmonic_frames harmonics_at(std::span<const double> volts, sample_rate rate,
                                           const pitch_line& pitch, const cycle_plan& plan,
                                           std::span<const double> at_s);

/// The factor by which resampling changes each line of a note at constant pitch.
///
/// Definition: sinc(k/M) K(f_k/f_s) / sinc(f_k/f_s): mean over one point, taken from the running
///             sum by cubic convolution with kernel spectrum K.
/// Source:     R. G. Keys 1981, "Cubic convolution interpolation for digital image processing",
///             IEEE Trans. ASSP 29(6), with a = -1/2.
[[nodiscard]] std::vector<double> line_response(const cycle_plan& plan, hertz pitch,
                                                sample_rate rate);

/// Rms magnitude of a line where the record is white noise of deviation 1.
///
/// Definition: (4 / N) sqrt(sum of w^2) = sqrt(6 / N), w a Hann window over the N samples of the
///             plan's cycles (standard mathematics); lines near half the rate get less.
[[nodiscard]] double line_noise(const cycle_plan& plan, hertz pitch, sample_rate rate) noexcept;

/// Mean pitch between two times, from the phase advance of the fundamental.
///
/// Input:      `nominal` right within 2 %.
/// Error:      below 0.01 cent without noise for a held note (tests/analysis/cycles_test.cpp).
/// Refuses:    too_short (less than 4 frames), silent (no fundamental), no_pitch (over 3 % away).
[[nodiscard]] outcome<hertz> held_pitch(std::span<const double> volts, sample_rate rate,
                                        hertz nominal, seconds from, seconds to);

}  // namespace cvrig::analysis
