#pragma once

#include <span>
#include <string>
#include <vector>

#include "analysis/loop_sequence.hpp"
#include "rig/link/interface.hpp"

namespace cvrig {

/// What a stream reported, in one sentence that says where in the take. `origin` is the frame of the
/// record at which the take begins.
[[nodiscard]] std::string in_words(const stream_event& e, sample_rate rate, std::size_t origin);

/// A break in the loop-back's sequence: "48 samples were lost at 3.210 s."
[[nodiscard]] std::string in_words(const analysis::loop_break& b, sample_rate rate,
                                   std::size_t origin);

/// What the events of a stream mean for a take.
struct stream_verdict {
    std::vector<std::string> problems;  ///< it is not whole, or nobody can tell
    std::vector<std::string> notes;     ///< for the log only
};

/// On a simulated interface only a stream that vanished or starved is a problem: what its driver and
/// the computer's clock say is noted, and the loop-back judges.
[[nodiscard]] stream_verdict judge_events(std::span<const stream_event> events, bool simulated,
                                          sample_rate rate, std::size_t origin);

}  // namespace cvrig
