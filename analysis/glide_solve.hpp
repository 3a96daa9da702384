#pragma once

#include <span>

#include "analysis/glide_fit.hpp"

namespace cvrig::analysis::gliding {

/// The voice model that explained a record, and how well.
struct solution {
    voice_model model;
    voice_fit fit;
    law_prior prior;
    double noise_variance{0.0};  ///< expected of the residual, per independent value
    bool shape_decided{false};
    band_record record{};  ///< wide enough to be read between its values

    [[nodiscard]] bool reaches_noise() const;
    /// Residual beyond the noise, over the voice, both RMS.
    [[nodiscard]] double misfit() const;
    /// What it leaves is so little, and so alike no other shape of glide, that its time is meant.
    [[nodiscard]] bool explains() const;
    /// Standard uncertainty of the time constant. What a model leaves above the noise moves it by
    /// about this share of it (seen in scripts/accuracy-glide, not derived).
    [[nodiscard]] double u_tau_s() const;

private:
    [[nodiscard]] double share_of_misfit(double scale_s) const;
};

/// A glide that is only roughly known: the record in a band that is wide enough to be read between
/// its values, and the likeliest law.
struct located {
    band_record record;
    glide_law law;
};

[[nodiscard]] outcome<located> locate_glide(std::span<const double> volts, double rate_hz,
                                            const glide_request& request);

/// Climbs the ladder of models and stops at the first that reaches the noise or tells the time
/// constant well enough: harmonics of fixed amplitude in each shape of glide, then the likeliest
/// shape behind a fixed filter.
[[nodiscard]] outcome<solution> solve_glide(std::span<const double> volts, double rate_hz,
                                            const glide_request& request);

}  // namespace cvrig::analysis::gliding
