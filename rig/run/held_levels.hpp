#pragma once

#include <map>
#include <string>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/expectations/expectations.hpp"

namespace cvrig {

/// What every output of the bench holds, in its order, when some jacks are given voltages and the
/// others rest. Throws user_error, with the output's place, for a voltage outside its limits and for
/// a jack that no output feeds.
[[nodiscard]] std::vector<volts> held_levels(const bench& b, const module_expectations& m,
                                             const std::map<std::string, volts>& at);

}  // namespace cvrig
