#pragma once

#include <functional>
#include <stop_token>
#include <string>
#include <vector>

#include "rig/calibration/actor.hpp"
#include "rig/calibration/story.hpp"
#include "rig/run/bench_session.hpp"
#include "rig/run/runner.hpp"

namespace cvrig {

/// What a calibration needs. All must outlive it.
struct calibration_parts {
    const module_expectations& module;
    const bench& desk;
    bench_session& session;  ///< proven
    const run_plan& stair;   ///< one choice of settings of the check tracking
    actor& acts;
    std::function<void(const std::string&)> say;  ///< one line on what happens now
    std::stop_token stop;
    bool write_best{false};  ///< write the best constants afterwards, where the module takes them
};

/// A whole calibration and every take that it played.
struct calibration_run {
    calibration_story story;
    std::vector<take_summary> takes;
    seconds sound{0.0};
    seconds analysis_cpu{0.0};
    bool stopped{false};
};

/// Measures the tracking, walks the module through its own procedure, measures again, and again after
/// everything that the constants must survive. If the constants are gone at the end and the module
/// takes constants, those of the procedure are written again.
[[nodiscard]] calibration_run calibrate(const calibration_parts& parts);

}  // namespace cvrig
