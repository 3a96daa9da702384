#pragma once

#include <optional>
#include <string_view>

#include "rig/cli/commands.hpp"
#include "rig/cli/session.hpp"
#include "rig/platform/interrupts.hpp"
#include "rig/run/runner.hpp"
#include "rig/service/run_events.hpp"

namespace cvrig {

/// Tells whoever started `cvrig run --tell` what the run does; does nothing without --tell.
class run_follower {
public:
    /// Both must outlive this object.
    run_follower(const run_arguments& a, const bench& b, const interrupts& stop);

    /// A step that begins: building, flashing, proving or judging.
    void begin(std::string_view step);
    void plays(const take_progress& p);
    void heard(const take& t);
    /// Tells the end, and hands its status on.
    exit_status ended(exit_status status);

    /// For open_session().
    [[nodiscard]] session_follower for_session();

private:
    const bench& bench_;
    const interrupts& stop_;
    std::optional<service::run_teller> teller_;
};

}  // namespace cvrig
