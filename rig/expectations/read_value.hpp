#pragma once

#include <optional>

#include "rig/expectations/complaint_list.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/expectations/yaml_tree.hpp"

namespace cvrig {

/// Reads one value of a key as its specification wants it; complains and is empty otherwise.
/// `m` gives the pitch law (for notes and intervals instead of volts) and the range of jack
/// "pitch".
[[nodiscard]] std::optional<value> read_value(const yaml_node& node, const key_spec& key,
                                              const module_expectations& m, complaint_list& wrong);

/// The two forms that play notes: {from: 0 V, to: 4 V, every: 1 semitone, order: up and down} and
/// [0 V to 1 V, C2 to C3].
[[nodiscard]] std::optional<value> read_stair(const yaml_node& node, const key_spec& key,
                                              const module_expectations& m, complaint_list& wrong);
[[nodiscard]] std::optional<value> read_steps(const yaml_node& node, const key_spec& key,
                                              const module_expectations& m, complaint_list& wrong);

/// Stretches of memory by name: {flash: {from: 0x08000000, size: 128 KiB, used: at most 120 KiB}}.
[[nodiscard]] std::optional<value> read_regions(const yaml_node& node, const key_spec& key,
                                                complaint_list& wrong);

/// True if `node` is a stair itself, not a map from the values of a setting to stairs.
[[nodiscard]] bool looks_like_a_stair(const yaml_node& node);

}  // namespace cvrig
