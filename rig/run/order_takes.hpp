#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rig/expectations/expectations.hpp"
#include "rig/run/plan.hpp"

namespace cvrig {

/// The settings that a person must make: all without a console line, and every one if the bench
/// has no console.
[[nodiscard]] std::vector<const setting*> hand_settings(const module_expectations& m,
                                                        bool bench_has_console);

/// The same takes in the order in which a person has to act as rarely as possible (see
/// fewest_changes). Takes that need the same hands stay together, in groups of the same console
/// settings; equals keep their order. `now` is how the module is set at present, if that is known.
/// Only for a link to a real module: a program is told all its settings each time.
[[nodiscard]] run_plan order_takes(run_plan plan, const module_expectations& m,
                                   bool bench_has_console,
                                   const std::optional<setting_choice>& now = std::nullopt);

/// What a plan asks of a person. An action is one setting that gets another value; at first each
/// setting must be made once.
struct hand_work {
    int actions{0};   ///< in the order of the plan
    int at_least{0};  ///< what no order can go below
};
[[nodiscard]] hand_work hand_work_of(const run_plan& plan, const module_expectations& m,
                                     bool bench_has_console);

}  // namespace cvrig
