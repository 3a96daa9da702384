#pragma once

#include <span>
#include <vector>

#include "analysis/units.hpp"

namespace cvrig::test_support {

/// Onsets by aubio, an independent library (its method "hfc", frames of 256 samples, hops of 64),
/// less the delay that aubio states for itself.
[[nodiscard]] std::vector<seconds> aubio_onsets(std::span<const double> volts, sample_rate rate);

}  // namespace cvrig::test_support
