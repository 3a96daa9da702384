#pragma once

#include "rig/expectations/complaint_list.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/expectations/yaml_tree.hpp"

namespace cvrig {

/// The sections of an expectation file that describe the module. Each reads its part of `root` into
/// `m`; what is wrong goes to `wrong`, and `m` keeps what could be read.
void read_pitch(const yaml_node& root, module_expectations& m, complaint_list& wrong);
void read_drive(const yaml_node& root, module_expectations& m, complaint_list& wrong);
void read_listen(const yaml_node& root, module_expectations& m, complaint_list& wrong);
void read_settings(const yaml_node& root, module_expectations& m, complaint_list& wrong);
void read_console(const yaml_node& root, module_expectations& m, complaint_list& wrong);
/// After the recorded jacks, which are its keys.
void read_routes(const yaml_node& root, module_expectations& m, complaint_list& wrong);
/// After the driven jacks, of which it moves some.
void read_calibration(const yaml_node& root, module_expectations& m, complaint_list& wrong);
void read_judging(const yaml_node& root, module_expectations& m, complaint_list& wrong);

/// A line that is sent to the module's console: one line, not empty, not endless.
[[nodiscard]] std::string console_line(const yaml_node& node, std::string_view key,
                                       complaint_list& wrong);

}  // namespace cvrig
