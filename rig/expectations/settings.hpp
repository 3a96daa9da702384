#pragma once

#include <map>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "rig/expectations/place.hpp"

namespace cvrig {

/// One value for each setting that matters, by name: {{"mode", "tied"}, {"waveform", "saw"}}.
using setting_choice = std::map<std::string, std::string>;

/// "mode tied, waveform saw"; empty for no settings.
[[nodiscard]] std::string in_words(const setting_choice& choice);

/// The settings that have the same value in each of the choices; a choice of no settings does not
/// count.
[[nodiscard]] setting_choice throughout(std::span<const setting_choice> all);

/// The choice without the settings that are in `left_out`.
[[nodiscard]] setting_choice without(setting_choice choice, const setting_choice& left_out);

/// A switch, knob or menu entry of the module: the values it may take and the ways to set it.
struct setting {
    std::string name;
    std::vector<std::string> values;
    std::optional<std::string> console;  ///< line to send; "{value}" stands for the value
    std::optional<std::string> confirm;  ///< line that asks for the value, which must be the reply
    std::optional<std::string> operator_instruction;  ///< sentence to show; "{value}" as above
    place where;
    /// The value that whoever prepares the bench leaves it at, so that nobody is asked to make it.
    std::optional<std::string> prepared{};
};

}  // namespace cvrig
