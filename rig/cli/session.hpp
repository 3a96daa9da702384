#pragma once

#include <functional>
#include <map>
#include <memory>
#include <stop_token>
#include <string>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/cli/commands.hpp"
#include "rig/console/operator_prompt.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/link/exchange_feeder.hpp"
#include "rig/platform/interrupts.hpp"
#include "rig/run/bench_session.hpp"

namespace cvrig {

/// Whoever follows a run from outside, in place of a person at the terminal; either may be empty.
struct session_follower {
    std::function<hand_result(const hand_action&, const std::vector<std::string>& cautions)> ask;
    exchange_tap tap;  ///< of an audio interface
};

/// The bench that the arguments of `cvrig run` ask for: a program, or a real module. All arguments
/// must outlive the session. Throws user_error for what cannot be opened.
[[nodiscard]] std::unique_ptr<bench_session> open_session(const run_arguments& a, const bench& b,
                                                          const module_expectations& m,
                                                          const interrupts& stop,
                                                          const session_follower& follower = {});

/// What {name} stands for in the commands and addresses of a bench file: the names of `--with`, the
/// image and the unit.
[[nodiscard]] std::map<std::string, std::string> names_of(const run_arguments& a);

/// The bench with its console's address as the arguments fill it in.
[[nodiscard]] bench named_as_in(const run_arguments& a, bench b);

}  // namespace cvrig
