#pragma once

#include <string>

#include "rig/console/console.hpp"

namespace cvrig {

/// The serial number that the module itself tells; empty where the file knows no question for it
/// (console_rules::serial_number) or the console gives no answer to it.
/// Refuses: throws user_error if `typed` is not empty and names another unit: what is measured must
///          not be kept under a wrong name.
[[nodiscard]] std::string told_serial_number(console& talks, const console_rules& rules,
                                             const std::string& typed);

}  // namespace cvrig
