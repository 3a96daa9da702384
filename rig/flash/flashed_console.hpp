#pragma once

#include <optional>
#include <stop_token>
#include <string>
#include <vector>

#include "rig/bench/console_settings.hpp"
#include "rig/checks/outside_facts.hpp"
#include "rig/expectations/expectations.hpp"

namespace cvrig {

/// What is known of a module after flashing.
struct flash_proof {
    std::vector<std::string> facts;  ///< what is worth knowing, one sentence each
    std::string
        doubt{};  ///< the one of these that leaves open whether it runs the image; may be empty
};

/// Waits, after flashing, until the module's console is back and says that it runs `image`.
///
/// It takes at most the console's return time and one question more: a module may answer once again
/// as the old build before it restarts, and may boot for a while. `console` is ready to be opened
/// (rig/console/fill_in.hpp). Where nothing tells the identity, or no version of it or of the image
/// is known, that is the doubt; a console that is a program is not waited for.
/// Refuses: throws user_error, one sentence that says that nothing was judged, for a console that
///          does not come back or does not answer, and for another version than the image's.
[[nodiscard]] flash_proof await_flashed(const console_settings& console,
                                        const module_expectations& m,
                                        const std::optional<image_facts>& image,
                                        std::stop_token stop);

}  // namespace cvrig
