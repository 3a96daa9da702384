#pragma once

#include <spdlog/fwd.h>

#include <memory>

#include "rig/cli/commands.hpp"
#include "rig/flash/prepare.hpp"
#include "rig/platform/interrupts.hpp"

namespace cvrig {

/// The build and flash steps of a bench as the arguments ask for them: who waits at the terminal is
/// told what goes on, and the log, if there is one, gets it all. All arguments must outlive it.
[[nodiscard]] preparing preparing_for(const run_arguments& a, const bench& b,
                                      const module_expectations& m, const interrupts& stop,
                                      spdlog::logger* log = nullptr);

}  // namespace cvrig
