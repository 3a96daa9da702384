#pragma once

#include <memory>
#include <stop_token>

#include "rig/bench/bench.hpp"
#include "rig/cli/commands.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/platform/interrupts.hpp"
#include "rig/run/bench_session.hpp"

namespace cvrig {

/// The bench that the arguments of `cvrig run` ask for: a program, or a real module. All arguments
/// must outlive the session. Throws user_error for what cannot be opened.
[[nodiscard]] std::unique_ptr<bench_session> open_session(const run_arguments& a, const bench& b,
                                                          const module_expectations& m,
                                                          const interrupts& stop);

/// The bench with its console's address as the arguments fill it in.
[[nodiscard]] bench named_as_in(const run_arguments& a, bench b);

}  // namespace cvrig
