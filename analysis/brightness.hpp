#pragma once

#include <span>
#include <vector>

#include "analysis/envelope.hpp"
#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// How bright a note is while its filter moves.
namespace cvrig::analysis {

/// The mean harmonic against time, as frames whose brightness is 20 lg of it.
///
/// Definition: sum of k A_k over sum of A_k, over the harmonics k up to 0.42 of the sample rate
///             whose peak amplitude A_k stands five standard deviations of the silence's noise out
///             of it; windows as in track_envelope.
/// Source:     spectral centroid, common practice, no source; noise of a windowed line: sigma (4/N)
///             sqrt(sum w^2), standard mathematics.
/// Input:      as track_envelope; `silence` is what the jack gives when nothing sounds.
/// Error:      0.1 dB for a steady band-limited saw (tests/analysis/brightness_test.cpp).
/// Refuses:    as track_envelope; too_short also for a silence of less than 16 samples, silent
///             where in a frame no harmonic stands out.
[[nodiscard]] outcome<std::vector<envelope_frame>> track_brightness(
    std::span<const double> volts, std::span<const double> silence, sample_rate rate,
    const envelope_request& request);

}  // namespace cvrig::analysis
