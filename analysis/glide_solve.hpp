#pragma once

#include <optional>
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
    /// Time constant of the main part alone, where that is far more alike its law than the whole: a
    /// slide that runs past its end and comes back is no exponential, but what leads there is.
    struct time_reading {
        double tau_s, u_tau_s;
    };
    std::optional<time_reading> main_part{};

    [[nodiscard]] bool reaches_noise() const;
    /// Residual beyond the noise, over the voice, both RMS.
    [[nodiscard]] double misfit() const;
    /// What it leaves is so little, and so alike no other shape of glide, that its time is meant.
    [[nodiscard]] bool explains() const;
    /// Standard uncertainty of the time constant. What a model leaves above the noise moves it by
    /// some share of itself (seen in scripts/accuracy-glide, not derived).
    [[nodiscard]] double u_tau_s() const;

private:
    /// By which the time constant is off for a misfit of 1.
    [[nodiscard]] double seconds_of_misfit() const;
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
