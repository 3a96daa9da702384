#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "analysis/units.hpp"

namespace cvrig {

/// Volts against time for every driven jack, in the order of the bench's outputs.
struct stimulus {
    sample_rate rate{48000.0};
    std::vector<std::string> jacks;
    std::vector<std::vector<float>> volts;  ///< one channel a jack, all of one length
    /// What sets it apart from other takes with the same settings; empty for the only or first one.
    std::string part{};

    /// Samples in each channel.
    [[nodiscard]] std::size_t size() const noexcept { return volts.empty() ? 0 : volts[0].size(); }
};

}  // namespace cvrig
