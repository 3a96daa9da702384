#pragma once

#include "demo/console/instrument.hpp"
#include "demo/live/bass_module.hpp"
#include "demo/live/misbehaviour.hpp"

#include <optional>
#include <vector>

namespace ferrule {

/// What a line asked for that concerns the console itself; done once the line has been answered.
struct console_wishes {
    bool reboot = false;
    std::optional<absence> flash;
    misbehaviour faults;  ///< their times are those of the sound
};

/// Everything that the console of a Ferrule understands beside what every instrument does.
[[nodiscard]] std::vector<command> console_commands(bass_module& module, console_wishes& wishes,
                                                    const absence& flash);

}  // namespace ferrule
