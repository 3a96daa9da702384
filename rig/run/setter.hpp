#pragma once

#include <string>

#include "rig/expectations/settings.hpp"

namespace cvrig {

/// What became of setting the module.
struct set_result {
    enum class what {
        done,
        skipped,  ///< the operator skipped it, or the run is unattended: do not play
        failed,   ///< the console did not do it: the take is in doubt
        aborted   ///< the operator ended the run
    };
    what became{what::done};
    std::string reason;  ///< one sentence unless done
};

/// Brings the module's switches and knobs to a choice of settings.
class setter {
public:
    setter() = default;
    setter(const setter&) = delete;
    setter& operator=(const setter&) = delete;
    virtual ~setter() = default;

    /// Sets what differs from the choice before; what is unknown at first is set in full.
    virtual set_result set(const setting_choice& next) = 0;
};

}  // namespace cvrig
