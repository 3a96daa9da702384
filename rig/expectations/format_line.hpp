#pragma once

#include <string_view>

#include "rig/expectations/complaint_list.hpp"
#include "rig/expectations/yaml_tree.hpp"

namespace cvrig {

/// Checks "format: cvrig expectations 1". `kind` is "expectations" or "bench".
///
/// A missing or unreadable line is one complaint among others. Another kind of file or a newer
/// format makes all other complaints worthless, so it throws user_error at once.
void require_format(const yaml_node& root, std::string_view kind, complaint_list& wrong);

}  // namespace cvrig
