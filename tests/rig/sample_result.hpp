#pragma once

#include "rig/run/result.hpp"

namespace cvrig::testing {

/// A hand-made run that holds everything a report must show: three modes, all verdicts, limits of
/// every form, answers, plots, troubled takes, and text that tries to break out of its report.
[[nodiscard]] run_result sample_result();

}  // namespace cvrig::testing
