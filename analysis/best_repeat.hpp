#pragma once

#include <cstddef>
#include <optional>
#include <span>

/// At which distance a stretch of a record comes again. Internal to transients.hpp and dropouts.hpp.
namespace cvrig::analysis {

enum class repeats { before, behind };

struct repeat_request {
    std::size_t first{0}, last{0};        ///< the stretch, `last` apart from it
    std::size_t shortest{1}, longest{1};  ///< distances in samples that are tried
    repeats where{repeats::before};
};

/// The distance with the least sum of squared differences, of every third sample; the shortest of equal
/// ones. Empty where the record is too short on that side for any, or the stretch empty or outside.
///
/// Source:     average magnitude difference, squared: A. de Cheveigne, H. Kawahara 2002, "YIN, a
///             fundamental frequency estimator for speech and music", J. Acoust. Soc. Am. 111(4),
///             equation 6.
[[nodiscard]] std::optional<std::size_t> best_repeat(std::span<const double> volts,
                                                     const repeat_request& request);

}  // namespace cvrig::analysis
