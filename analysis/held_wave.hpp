#pragma once

#include <complex>
#include <cstddef>
#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

namespace cvrig::analysis {

/// A note where it is held: its waveform, which can be continued backwards and forwards to where
/// the note begins and ends.
class held_wave {
public:
    [[nodiscard]] hertz pitch() const noexcept { return pitch_; }
    [[nodiscard]] volts rms() const noexcept { return rms_; }  ///< in the middle of the stretch
    [[nodiscard]] volts residual_rms() const noexcept { return residual_; }
    /// First and one past the last sample of the stretch that it was read from.
    [[nodiscard]] std::size_t from() const noexcept { return from_; }
    [[nodiscard]] std::size_t to() const noexcept { return to_; }

    /// Volts at samples `first` to `end` of the record, as if the note had been held there.
    [[nodiscard]] std::vector<double> continued(std::size_t first, std::size_t end) const;

    /// One cycle in `points` equal parts, in volts as at sample `at`; element 0 is the phase there.
    [[nodiscard]] std::vector<double> cycle(double at_sample, std::size_t points) const;

private:
    friend outcome<held_wave> read_held_wave(std::span<const double>, double, sample_rate, hertz,
                                             seconds, seconds);
    [[nodiscard]] double shrunk(double at_sample) const noexcept;

    hertz pitch_;
    volts rms_, residual_;
    std::size_t from_{0}, to_{0};
    double cycles_per_sample_{0.0};
    double decay_per_sample_{0.0};
    std::vector<std::complex<double>> lines_v_;  ///< of each harmonic at sample `from_`
};

/// Reads the waveform of a held note from a stretch of it.
///
/// Definition: pitch and decay from the fundamental's phase and level in the two halves of the
///             stretch (Hann windows); then harmonics up to 0.42 of the sample rate, at most 96, by
///             least squares. `offset_volts`, the mean of silence, is taken off first.
/// Source:     IEEE Std 1057-2017, sine fit with harmonics; the phase advance is standard
///             mathematics.
/// Input:      eight periods or more of a note whose pitch is right within 1 %.
/// Error:      pitch 0.01 cent without noise (tests/analysis/note_edge_test.cpp).
/// Refuses:    bad_argument, not_finite, too_short, silent, no_pitch (over 2 % away, or half
///             of the sound is none of its harmonics).
[[nodiscard]] outcome<held_wave> read_held_wave(std::span<const double> volts, double offset_volts,
                                                sample_rate rate, hertz pitch, seconds from,
                                                seconds to);

}  // namespace cvrig::analysis
