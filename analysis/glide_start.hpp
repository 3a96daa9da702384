#pragma once

#include <vector>

#include "analysis/glide_phase.hpp"
#include "analysis/glide_record.hpp"

namespace cvrig::analysis::gliding {

/// What is known of the four parameters beforehand: values and standard uncertainties; an
/// uncertainty of 0 means that nothing is known.
struct law_prior {
    std::array<double, law_places> at{};
    std::array<double, law_places> u{};
    std::optional<glide_before> before{};
};

struct glide_start {
    glide_law law;
    double unlike{1.0};  ///< how much successive cycles differ, as a share of their power
};

/// First guesses of a glide, best first, from how alike its successive cycles are.
///
/// Definition: the record is read at equal steps of the law's own phase; with the right law each
///             cycle repeats the one before. Only neighbouring cycles are compared at first, so
///             that the cost sees pitch and not phase and cannot slip by a cycle; then cycles two
///             and four apart, which sharpens the guess.
/// Input:      a record that holds the lowest few harmonics, sampled ten times as fast as the
///             highest of them.
[[nodiscard]] std::vector<glide_start> find_starts(const band_record& record,
                                                   const law_prior& prior, glide_shape shape);

/// The same from a guess that is already close, for instance with another shape.
[[nodiscard]] glide_start refined(const band_record& record, const law_prior& prior,
                                  const glide_law& law);

/// The same measure for one law, cycles `apart` from each other.
[[nodiscard]] double unlikeness(const band_record& record, const glide_law& law, int apart);

}  // namespace cvrig::analysis::gliding
