#pragma once

#include <string>

#include "rig/evidence/read_report.hpp"

namespace cvrig::report {

/// What was read, as people read it: "7.31 cent ± 0.42 cent" (± k * u), "goes on (99.9 %)", or "no
/// reading". `coverage_factor` is k.
[[nodiscard]] std::string told_text(const evidence::told_finding& f, double coverage_factor);

}  // namespace cvrig::report
