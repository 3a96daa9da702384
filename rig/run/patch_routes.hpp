#pragma once

#include <functional>
#include <map>
#include <string>
#include <vector>

#include "rig/run/patch_cast.hpp"
#include "rig/run/patch_listening.hpp"

namespace cvrig::patching {

/// At which inputs each output of the module is heard alone.
struct route_reading {
    bool told{false};  ///< the module took every line and was heard after each
    std::map<std::string, std::vector<std::string>>
        heard_at;         ///< both by the recorded jacks' names
    std::string problem;  ///< why not, if it was tried
};

/// Silences all outputs of the module but one, by a line to its console, and plays a note; for each
/// output that has such a line. Lets all sound again at the end.
[[nodiscard]] route_reading play_routes(player& to_module, const bench& b,
                                        const module_expectations& m, const cast& who,
                                        const std::function<bool(const std::string&)>& tell);

}  // namespace cvrig::patching
