#pragma once

#include "analysis/units.hpp"

namespace cvrig {

/// The straight line between a channel's samples (full scale 1) and the volts at its socket:
/// volts = offset + volts_per_full_scale * sample. An inverting channel has a negative slope.
struct channel_trim {
    double volts_per_full_scale{10.0};
    volts offset{0.0};
    /// Standard uncertainties and covariance of the two constants (GUM H.3); 0 where unknown.
    double u_volts_per_full_scale{0.0};
    volts u_offset{0.0};
    double covariance_volts_squared{0.0};

    [[nodiscard]] double sample(volts v) const noexcept {
        return (v.value() - offset.value()) / volts_per_full_scale;
    }
    [[nodiscard]] volts at(double sample) const noexcept {
        return volts{offset.value() + volts_per_full_scale * sample};
    }
};

}  // namespace cvrig
