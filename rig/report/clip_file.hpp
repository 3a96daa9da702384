#pragma once

#include <string>

#include "rig/run/result.hpp"

namespace cvrig::report {

/// What a sample value of 1.0 in a kept sound means: players take more than 1.0 for clipping.
inline constexpr volts clip_full_scale{10.0};

/// The folder of kept sounds beside the reports.
inline constexpr const char* clip_folder = "sounds";

/// Where a kept sound lies, seen from the reports: "sounds/pattern,mode=tied,step-117.wav". What
/// comes from the run is made a plain_name().
[[nodiscard]] std::string clip_file(const check_result& of, const sound_clip& clip);

}  // namespace cvrig::report
