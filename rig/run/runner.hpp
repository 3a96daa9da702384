#pragma once

#include <functional>
#include <stop_token>
#include <string>
#include <vector>

#include "rig/link/link.hpp"
#include "rig/run/plan.hpp"
#include "rig/run/result.hpp"

namespace cvrig {

/// Where a run is, for a progress display.
struct take_progress {
    int take{0};  ///< the one that plays now, from 1
    int takes{0};
    setting_choice choice;
    seconds played{0.0};   ///< sound of the finished takes
    seconds planned{0.0};  ///< sound of all takes so far planned
    int attempt{1};
    std::vector<std::string> checks{};  ///< whose passages it plays
};

/// What a run tells while it goes, and how it is stopped.
struct run_watch {
    std::function<void(const take_progress&)> progress;
    std::function<void(const take&)> taken;  ///< every take as it came back, good or bad
    /// Puts retakes into a better order, given the settings of the last take; unset: as they come.
    std::function<run_plan(run_plan, const setting_choice&)> order;
    std::stop_token stop;
};

/// What came of the takes; the caller adds names, versions and times to make a report of it.
struct run_outcome {
    std::vector<take_summary> takes;
    std::vector<check_result> checks;
    seconds sound{0.0};
    seconds analysis_cpu{0.0};
    bool stopped{false};
};

/// Plays the plan and judges it. While one take plays, the one before is analysed. A check with an
/// unsure finding is taken again, with longer notes, at most `m.retakes` times, as long as the link
/// has hope; a take with a
/// problem is never judged. What belongs to a skipped take is skipped with its reason and not tried
/// again. A take during which the module did what no build may do is never judged either, and the
/// whole run gets a result "console" that fails.
[[nodiscard]] run_outcome run(const run_plan& plan, link& to_module, const module_expectations& m,
                              const bench& b, const run_watch& watch);

/// The results, each check's followed by what it concludes from all of them together
/// (check::conclude). Pure.
[[nodiscard]] std::vector<check_result> concluded(std::vector<check_result> results,
                                                  const module_expectations& m, const bench& b);

/// Judges one take. Pure.
[[nodiscard]] std::vector<check_result> judge_take(const planned_take& planned,
                                                   const take& came_back,
                                                   const module_expectations& m, const bench& b);

}  // namespace cvrig
