#pragma once

#include <string_view>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/expectations/fields.hpp"

namespace cvrig {

/// The sections of a bench file. What is wrong goes to `wrong`. The link comes first: with a program
/// there are no channels to speak of.
void read_link(const yaml_node& node, bench& b, complaint_list& wrong);
[[nodiscard]] std::optional<audio_link_settings> read_audio_link(const yaml_node& node,
                                                                 complaint_list& wrong);
[[nodiscard]] std::vector<bench_output> read_outputs(const yaml_node& node, bool has_channels,
                                                     complaint_list& wrong);
[[nodiscard]] std::vector<bench_input> read_inputs(const yaml_node& node, bool has_channels,
                                                   complaint_list& wrong);
[[nodiscard]] std::optional<loop_back> read_loop_back(const yaml_node& node, complaint_list& wrong);

/// The number of a channel of the interface, from 1; empty if absent or wrong.
[[nodiscard]] std::optional<std::size_t> read_channel_number(const fields& f, std::string_view key,
                                                             complaint_list& wrong);
/// A channel's volts for a full-scale sample, in which 0 is refused; empty if absent or wrong.
[[nodiscard]] std::optional<double> read_full_scale(const fields& f, std::string_view key,
                                                    complaint_list& wrong);
/// Complains about each channel that is used twice.
void check_channels(const bench& b, complaint_list& wrong);
[[nodiscard]] console_settings read_console(const yaml_node& node, complaint_list& wrong);

/// The commands before a run; `console` is the bench's, if it has one.
[[nodiscard]] bench_step read_build(const yaml_node& node, complaint_list& wrong);
[[nodiscard]] bench_step read_flash(const yaml_node& node,
                                    const std::optional<console_settings>& console,
                                    complaint_list& wrong);

/// A command and its arguments, which may repeat and keep their blanks; `key` and `example` are for
/// the complaints. Empty if it is no list of texts.
[[nodiscard]] std::vector<placed_text> read_command_line(const yaml_node& node,
                                                         std::string_view key,
                                                         std::string_view example,
                                                         complaint_list& wrong);

/// "localhost:5025" or "[::1]:5025"; false for anything else.
[[nodiscard]] bool read_host_and_port(const std::string& text, console_settings& into);

/// The key "uncertainty", of the dimension that the example has; empty if absent or wrong.
[[nodiscard]] std::optional<double> read_uncertainty(const fields& f, const std::string& example,
                                                     complaint_list& wrong);

}  // namespace cvrig
