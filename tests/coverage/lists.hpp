#pragma once

#include <vector>

#include "tests/coverage/coverage.hpp"

namespace cvrig::testing {

[[nodiscard]] std::vector<covered_quantity> tracking_coverage();
[[nodiscard]] std::vector<covered_quantity> slide_coverage();
[[nodiscard]] std::vector<covered_quantity> accent_coverage();
[[nodiscard]] std::vector<covered_quantity> envelope_coverage();
[[nodiscard]] std::vector<covered_quantity> clicks_coverage();
[[nodiscard]] std::vector<covered_quantity> console_coverage();
[[nodiscard]] std::vector<covered_quantity> level_coverage();
[[nodiscard]] std::vector<covered_quantity> range_coverage();
[[nodiscard]] std::vector<covered_quantity> stereo_coverage();
[[nodiscard]] std::vector<covered_quantity> waveform_coverage();
[[nodiscard]] std::vector<covered_quantity> noise_coverage();
[[nodiscard]] std::vector<covered_quantity> pattern_coverage();
[[nodiscard]] std::vector<covered_quantity> latency_coverage();
[[nodiscard]] std::vector<covered_quantity> gate_coverage();

}  // namespace cvrig::testing
