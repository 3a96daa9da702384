#pragma once

#include <optional>
#include <span>
#include <string>

#include "analysis/units.hpp"

namespace cvrig::test_support {

/// Pitch by aubio, an independent library: median over the frames that the note fills, no pitch if
/// it finds none. Methods as aubio names them; "default" is its FFT form of YIN.
[[nodiscard]] std::optional<hertz> aubio_pitch(const std::string& method,
                                               std::span<const double> volts, sample_rate rate);

}  // namespace cvrig::test_support
