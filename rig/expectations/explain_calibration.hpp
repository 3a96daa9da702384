#pragma once

#include <string>

#include "rig/expectations/expectations.hpp"

namespace cvrig {

/// How the module is calibrated by `cvrig calibrate`, in plain words; empty if the file says nothing
/// about it.
[[nodiscard]] std::string explain_calibration(const module_expectations& m);

/// What the section 'calibration' of an expectation file may say.
[[nodiscard]] std::string explain_calibration_keys();

}  // namespace cvrig
