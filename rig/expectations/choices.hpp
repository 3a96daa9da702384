#pragma once

#include <vector>

#include "rig/expectations/complaint_list.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/expectations/yaml_tree.hpp"

namespace cvrig {

/// The combinations of settings that a check plays.
///
/// `in` names values for some settings; the check plays every combination of them. A setting that
/// `in` does not name keeps its first declared value. Without any `in` the check plays every
/// combination of all values. The first setting of the file changes slowest.
[[nodiscard]] std::vector<setting_choice> choices_of(const yaml_node* in,
                                                     const module_expectations& m,
                                                     const place& check, complaint_list& wrong);

}  // namespace cvrig
