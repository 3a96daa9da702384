#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// Does the module's console answer, in time and with the right version, and is the processor's load
/// and memory as it should be over the whole run? Hears nothing.
[[nodiscard]] check console_check();

/// What is wrong with a reply to *IDN?; empty if nothing is.
///
/// Source: IEEE 488.2-1992, 10.14: four fields (manufacturer, model, serial number, firmware level)
///         separated by commas, none empty (0 stands for unknown), printable ASCII without commas
///         and semicolons within, at most 72 characters together. From memory.
[[nodiscard]] std::string identity_fault(const std::string& reply);

}  // namespace cvrig
