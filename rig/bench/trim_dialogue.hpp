#pragma once

#include <istream>
#include <ostream>
#include <stop_token>
#include <string>

#include "rig/bench/bench.hpp"
#include "rig/bench/meter.hpp"
#include "rig/bench/trim_file.hpp"
#include "rig/link/interface.hpp"

namespace cvrig {

/// What the trimming needs beside the interface and the bench.
struct trim_request {
    meter_accuracy meter;
    std::string date;  ///< "2026-11-25"
    std::stop_token stop{};
};

/// Leads a person through measuring every channel, and returns the constants.
///
/// First each output is held at known samples and the person types what the meter reads; then a
/// cable takes the trimmed outputs to the inputs; last the loop-back is measured from its input.
/// Everything is asked on `out` and answered on `in`, a line each. "r" goes back one reading, "s"
/// skips the channel (it keeps its constants), "a" ends all. Outputs are at 0 V when it returns or
/// throws.
///
/// Refuses: throws user_error when aborted, stopped, at the end of `in`, or when nothing was
///          measured.
[[nodiscard]] trim_constants trim_by_dialogue(audio_interface& to, const bench& b,
                                              const trim_request& request, std::istream& in,
                                              std::ostream& out);

}  // namespace cvrig
