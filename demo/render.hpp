#pragma once

#include "demo/module.hpp"
#include "demo/sound_file.hpp"

#include <vector>

namespace ferrule {

/// Which jack each stimulus channel drives and which output each response channel records.
struct wiring {
    std::vector<jack> jacks{jack::pitch, jack::gate,   jack::accent,
                            jack::slide, jack::cutoff, jack::decay};
    std::vector<output> outputs{output::left, output::right};
};

/// Plays a stimulus into a module: as many frames come back as went in. Jacks that the stimulus
/// has no channel for stay at 0 V.
[[nodiscard]] sound render(const sound& stimulus, const module_plan& plan, const wiring& wires);

}  // namespace ferrule
