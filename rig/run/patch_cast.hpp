#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/run/patch_check.hpp"
#include "rig/run/patch_score.hpp"

/// Which output is meant to do what, and how its effect is told.
namespace cvrig::patching {

/// Outputs (bench order, from 0) by what the jacks to which they are meant to lead do.
struct cast {
    std::optional<std::size_t> gate, pitch, accent, slide, cutoff;
    std::vector<std::size_t> others;  ///< driven jacks whose effect nobody told us
};

[[nodiscard]] cast cast_of(const bench& b, const module_expectations& m);

/// From which size on an effect is there.
namespace thresholds {
inline constexpr double gate_db = 12.0;       ///< a note over what was there before
inline constexpr double pitch_octaves = 0.1;  ///< of the pitch
inline constexpr double cutoff_db = 1.5;      ///< brightness at both edges of a step
inline constexpr double accent_db = 1.0;      ///< level or brightness of a struck note
inline constexpr double slide_ms = 15.0;      ///< later at the new pitch
inline constexpr double change_db = 1.0;      ///< of a jack whose effect is not known
inline constexpr double gain_error = 0.2;     ///< of the octave; less is a reading for a check
}  // namespace thresholds

[[nodiscard]] patch_effect effect_on(const bench& b, std::size_t output, std::string_view jack,
                                     double size, double threshold);

/// What the short test says.
struct short_reading {
    bool holds{false};
    bool accent_doubtful{false};  ///< all but the accent held
    std::string problem;          ///< no record
    std::optional<double> delay_samples;
    std::size_t best_input{0};
    std::vector<bool> inputs_sound;
    std::vector<std::size_t> unproven;  ///< others without an effect
    std::vector<patch_effect> effects;
};

}  // namespace cvrig::patching
