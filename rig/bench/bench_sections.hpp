#pragma once

#include <string_view>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/expectations/fields.hpp"

namespace cvrig {

/// The sections of a bench file. What is wrong goes to `wrong`.
[[nodiscard]] program_link_settings read_link(const yaml_node& node, complaint_list& wrong);
[[nodiscard]] std::vector<bench_output> read_outputs(const yaml_node& node, complaint_list& wrong);
[[nodiscard]] std::vector<bench_input> read_inputs(const yaml_node& node, complaint_list& wrong);
[[nodiscard]] console_settings read_console(const yaml_node& node, complaint_list& wrong);

/// "localhost:5025" or "[::1]:5025"; false for anything else.
[[nodiscard]] bool read_host_and_port(const std::string& text, console_settings& into);

/// The key "uncertainty", of the dimension that the example has; empty if absent or wrong.
[[nodiscard]] std::optional<double> read_uncertainty(const fields& f, const std::string& example,
                                                     complaint_list& wrong);

}  // namespace cvrig
