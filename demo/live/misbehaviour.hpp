#pragma once

#include <optional>
#include <string>

namespace ferrule {

/// When and for how long the console is away.
struct absence {
    double after_seconds = 0.0;  ///< of sound, from now or from switching on
    double away_seconds = 1.0;   ///< by the clock
    std::string new_name;        ///< under which it comes back; empty: the same
};

/// What a module with faults of its own kind does on a console.
struct misbehaviour {
    bool babbles = false;                       ///< fills the console as fast as it takes it
    std::optional<int> mute_after;              ///< lines that it still answers
    std::optional<double> reset_after_seconds;  ///< of sound, from now or from switching on
    std::optional<absence> gone;
};

}  // namespace ferrule
