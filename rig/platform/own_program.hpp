#pragma once

#include <string>

namespace cvrig {

/// The folder of the running program, so that programs installed beside it are found; empty if
/// unknown.
[[nodiscard]] std::string own_program_folder();

}  // namespace cvrig
