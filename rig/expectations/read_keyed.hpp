#pragma once

#include <optional>
#include <vector>

#include "rig/expectations/complaint_list.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/expectations/yaml_tree.hpp"

namespace cvrig {

/// Reads the value of a key: one value for all choices, or a map from the values of one setting
/// (and "otherwise") to values, which must have one for every choice and none for what is never
/// played.
[[nodiscard]] std::optional<keyed_value> read_keyed(const yaml_entry& entry, const key_spec& key,
                                                    const std::vector<setting_choice>& choices,
                                                    const module_expectations& m,
                                                    complaint_list& wrong);

/// Whether a key's value is given by the values of a setting.
[[nodiscard]] bool is_by_setting(const yaml_node& node, const key_spec& key);

}  // namespace cvrig
