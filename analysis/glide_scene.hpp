#pragma once

#include <Eigen/Core>
#include <span>
#include <utility>

#include "analysis/glide_model.hpp"
#include "analysis/glide_record.hpp"
#include "analysis/glide_start.hpp"

/// A record of a glide made ready for fitting: its bands, its noise, where it begins and ends.
namespace cvrig::analysis::gliding {

/// The record at the two rates that the start and the fit need.
struct scene {
    band_record wide;   // ten values a cycle of the highest frequency: for reading between values
    band_record tight;  // just above its band: for fitting
    law_prior prior;
    double noise_rms;  // volts, full band
    double mains_hz;
    /// Fit only the main part of the glide, not how it ends.
    bool main_part{false};
};

/// Where a slide sets off, the pitch bends; harmonics above the band then reach into it, by this
/// share of their amplitude: the bend of phase over the square of the band's edge.
[[nodiscard]] double bend(const glide_law& law, double edge_hz);

/// What is over within a fraction of a cycle has no shape.
[[nodiscard]] bool is_jump(const glide_law& law);

/// The wide record and what is known beforehand.
[[nodiscard]] scene prepare(std::span<const double> volts, double rate_hz,
                            const glide_request& request);

/// The tight record, in a band wide enough for this law.
void tighten(scene& s, std::span<const double> volts, double rate_hz, const glide_law& law,
             const glide_request& request);

/// The part of the tight record to be fitted: from well before the start to where nothing moves any
/// more.
[[nodiscard]] std::pair<fit_window, Eigen::VectorXd> cut(const scene& s, const glide_law& law,
                                                         bool filtered);

/// Of what a perfect model leaves of an independent value of the tight record.
[[nodiscard]] double expected_variance(const scene& s);

/// The likeliest law, exponential in volts. Refuses too_short and no_contrast.
[[nodiscard]] outcome<glide_start> likeliest(const scene& s);

/// Noise of an unknown amount, from how much successive steady cycles differ before the start.
[[nodiscard]] double noise_from_cycles(const scene& s, const glide_law& law);

}  // namespace cvrig::analysis::gliding
