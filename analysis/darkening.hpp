#pragma once

#include <span>
#include <vector>

#include "analysis/units.hpp"

/// A record without what lies far above a frequency, so that a note can be read under another sound.
namespace cvrig::analysis {

/// Keeps what lies well below `highest` and takes away what lies above it.
///
/// Definition: weighted mean over 2 / highest, with a Hann window as weights: what is left of a line is
///             hann_response(2 f / highest), 1 far below, 0.74 at a third, none at `highest` itself and
///             at most 2.7 % above it. The record loses half the window at either end.
/// Source:     F. J. Harris, "On the use of windows for harmonic analysis with the discrete Fourier
///             transform", Proc. IEEE 66(1), 1978, section V-C (the Hann window, -31 dB).
/// Input:      volts; an empty result where the record is shorter than the window.
[[nodiscard]] std::vector<double> darkened(std::span<const double> samples_volts, sample_rate rate,
                                           hertz highest);

}  // namespace cvrig::analysis
