#pragma once

#include <cstddef>
#include <memory>
#include <span>
#include <utility>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// The harmonics of a tone of known pitch, and its distortion.
namespace cvrig::analysis {

struct harmonic {
    volts peak;               ///< amplitude of the sine, not rms
    double phase_radians{0};  ///< peak * cos(2 pi k pitch t + phase), t = 0 at the first sample
};

struct harmonic_set {
    hertz pitch;
    volts dc;
    std::vector<harmonic> harmonics;  ///< the first is the fundamental
    volts residual_rms;               ///< what is neither DC nor one of these harmonics
    volts u_peak;  ///< standard uncertainty of each peak, if the residual is white noise

    /// rms of harmonics 2 and up over rms of the fundamental ("THD_F").
    ///
    /// Definition: counts the harmonics asked for, not all that exist: a sawtooth reads 74.1 % with
    ///             10 harmonics, 80.3 % with all.
    /// Source:     IEC 60268-3 (from memory), total harmonic distortion.
    /// Refuses:    silent (no fundamental).
    [[nodiscard]] outcome<double> thd_f() const;

    /// rms of harmonics 2 and up over rms of all harmonics ("THD_R"), else as thd_f.
    [[nodiscard]] outcome<double> thd_r() const;
};

/// Amplitude and phase of each harmonic of a steady tone, by least squares.
///
/// Definition: the DC and `count` sines at multiples of `pitch` that leave the least residual; no
///             window, so no leakage and no need for whole periods.
/// Source:     IEEE Std 1057-2017, three-parameter sine fit, with harmonics.
/// Input:      volts; 2 or more periods; count * pitch at least one bin (rate / samples) below half
///             the rate. A pitch wrong by e loses about (pi e k T)^2 / 6 of harmonic k in T
///             seconds.
/// Error:      1e-12 of the largest harmonic for an exact tone of 1 s.
/// Refuses:    too_short, not_finite, silent (all samples 0), bad_argument.
[[nodiscard]] outcome<harmonic_set> harmonic_levels(std::span<const double> samples_volts,
                                                    sample_rate rate, hertz pitch,
                                                    std::size_t count);

/// harmonic_levels for many records of one length and one pitch: the normal equations are the same
/// for all of them and are factored once.
class harmonic_meter {
public:
    /// Refuses: too_short, bad_argument.
    [[nodiscard]] static outcome<harmonic_meter> prepared(std::size_t samples, sample_rate rate,
                                                          hertz pitch, std::size_t count);

    /// Input:      as many samples as prepared for.
    /// Refuses:    bad_argument (another number of samples), not_finite, silent.
    [[nodiscard]] outcome<harmonic_set> levels(std::span<const double> samples_volts) const;

private:
    class normal_equations;

    harmonic_meter(hertz pitch, std::shared_ptr<const normal_equations> equations)
        : pitch_{pitch}, equations_{std::move(equations)} {}

    hertz pitch_;
    std::shared_ptr<const normal_equations> equations_;  // never changes, so that copies share it
};

}  // namespace cvrig::analysis
