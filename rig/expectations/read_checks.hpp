#pragma once

#include <span>

#include "rig/expectations/complaint_list.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/expectations/yaml_tree.hpp"

namespace cvrig {

/// Reads the section "checks" into `m`, whose other sections have been read.
void read_checks(const yaml_node& root, std::span<const check_spec> known, module_expectations& m,
                 complaint_list& wrong);

}  // namespace cvrig
