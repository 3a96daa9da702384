#pragma once

#include <string>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/expectations/expectations.hpp"

namespace cvrig {

/// One cable, in the way in which its signal runs.
struct wire {
    enum class kind {
        drive,      ///< from an output of the interface to a jack of the module
        listen,     ///< from a jack of the module to an input of the interface
        loop_back,  ///< from an output of the interface to one of its inputs
        console     ///< between the computer and the module
    };
    kind what{kind::drive};
    std::string from;                            ///< socket or jack
    std::string to;                              ///< socket or jack
    std::string carries;                         ///< "0 V to 4 V", "sound"
    std::size_t from_channel{0}, to_channel{0};  ///< of the interface, from 1; 0 elsewhere
};

/// Which cable goes where, for one module at one bench, and what to mind.
struct wiring_card {
    std::string bench;
    std::string interface;  ///< the audio device by the bench file
    std::string module;
    std::vector<wire> wires;         ///< drives, listens, loop-back, console; each in file order
    std::vector<std::string> notes;  ///< what stays unplugged, what has no cable
    std::vector<std::string> cautions;

    [[nodiscard]] bool has_cables() const noexcept { return !wires.empty(); }
};

/// The cables that a bench needs for a module. A bench whose link is a program has none.
[[nodiscard]] wiring_card wiring_of(const bench& b, const module_expectations& m);

/// What anyone who plugs such cables has to mind.
[[nodiscard]] std::vector<std::string> wiring_cautions();

}  // namespace cvrig
