#pragma once

#include <vector>

#include "analysis/loop_lock.hpp"
#include "analysis/loop_sequence.hpp"

namespace cvrig::analysis {

/// What one block of the record says about the path.
struct loop_block {
    double centre_sample{0.0};
    double latency_samples{0.0};  ///< as if no sample had been lost or repeated before
    double gain{0.0};
    double u_latency{0.0};  ///< from what the taps leave
    double u_gain{0.0};
    double samples{0.0};
};

/// A whole record, followed from the first sample of the sequence to the last.
struct loop_track {
    std::vector<loop_block> blocks;
    std::vector<loop_break> breaks;
    std::ptrdiff_t first_sample{0};  ///< of the record, where the sequence begins
    double offset{0.0};
    double noise_power{0.0};
};

/// Follows the sequence through the record. Refuses: no_fit (it is nowhere).
[[nodiscard]] outcome<loop_track> follow_loop(const loop_signal& s);

}  // namespace cvrig::analysis
