#pragma once

#include "analysis/units.hpp"

namespace cvrig {

/// Processor time that the calling thread has used so far; differences measure what work costs
/// whatever else the machine does.
[[nodiscard]] seconds thread_cpu_time() noexcept;

}  // namespace cvrig
