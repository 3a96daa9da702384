#pragma once

#include <string>

#include "rig/expectations/expectations.hpp"

namespace cvrig {

/// What is said to the module's console and when, in plain words; empty if the file has nothing to
/// say about it.
[[nodiscard]] std::string explain_console(const module_expectations& m);

}  // namespace cvrig
