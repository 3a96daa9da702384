#pragma once

#include <string>

#include "rig/expectations/yaml_tree.hpp"

namespace cvrig::evidence {

/// A YAML file that read_yaml() reads to the same tree (places apart): block style, with maps and
/// lists on one line where they fit. What the tree does not hold, such as comments, is not in it.
///
/// Input: a tree whose outermost level is a map, as read_yaml() gives it.
[[nodiscard]] std::string yaml_text(const yaml_node& root);

}  // namespace cvrig::evidence
