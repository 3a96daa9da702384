#pragma once

#include <optional>

#include "analysis/loop_taps.hpp"

/// Where in the sequence a stretch of the record is, and through what path it came.
namespace cvrig::analysis {

/// A stretch that agrees with the sequence.
struct loop_lock {
    loop_stretch where;
    loop_taps taps{};
    double residual_power{0.0};  ///< what the taps leave of the record's fast part
};

/// The range of lags to search.
struct lag_range {
    std::ptrdiff_t from{0}, to{0};
};

/// Looks at one lag and up to 12 samples either side of it. Empty unless the whole stretch agrees
/// with the sequence at one and the same lag.
[[nodiscard]] std::optional<loop_lock> lock_near(const loop_signal& s, const loop_stretch& where);

/// Searches a range of lags by correlation, then locks. `where.lag` is not used. `best_lag` is the
/// lag of the strongest correlation, if it was strong, even where the whole stretch does not agree.
struct search_result {
    std::optional<loop_lock> lock;
    std::optional<std::ptrdiff_t> best_lag;
};
[[nodiscard]] search_result search_lock(const loop_signal& s, const loop_stretch& where,
                                        const lag_range& lags);

}  // namespace cvrig::analysis
