#pragma once

#include <cstddef>
#include <span>

#include "analysis/transients_edges.hpp"
#include "analysis/transients_scale.hpp"
#include "analysis/units.hpp"

/// Which sudden changes are steps rather than corners. Internal to transients.hpp.
namespace cvrig::analysis {

inline constexpr seconds click_width{30e-6};

/// Growth of the abruptness from one scale to the next. A smooth wave grows by 16, so even a little of
/// it may make a step grow like a corner: where a peak looks like one, what is unlike the period before
/// decides, if the wave repeats well enough.
class growth_ear {
public:
    growth_ear(std::span<const double> volts, sample_rate rate, hertz highest_pitch);

    [[nodiscard]] double of(const sharp_peak& p, double noise_v) const;

    /// `relative_noise` is the noise's deviation over the peak.
    [[nodiscard]] static bool is_no_corner(double growth, double relative_noise);

private:
    std::span<const double> volts_;
    sample_rate rate_;
    abruptness_filter narrow_, wide_;
    std::size_t near_, shortest_lag_;
};

}  // namespace cvrig::analysis
