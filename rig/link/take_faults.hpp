#pragma once

#include <string>

#include "analysis/loop_sequence.hpp"
#include "rig/link/interface.hpp"

namespace cvrig {

/// What a stream reported, in one sentence that says where in the take. `origin` is the frame of the
/// record at which the take begins.
[[nodiscard]] std::string in_words(const stream_event& e, sample_rate rate, std::size_t origin);

/// A break in the loop-back's sequence: "48 samples were lost at 3.210 s."
[[nodiscard]] std::string in_words(const analysis::loop_break& b, sample_rate rate,
                                   std::size_t origin);

}  // namespace cvrig
