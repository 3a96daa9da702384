#pragma once

#include <filesystem>
#include <span>
#include <vector>

#include "rig/link/take.hpp"

namespace cvrig {

/// Fills `t.heard` from the file that a program wrote for the take, or tells in `t.problems` why it
/// cannot be judged. What is heard may be silence or noise: that is for the checks to say.
void read_response(const std::filesystem::path& file, take& t);

/// Whether every sample of every channel is 0.
[[nodiscard]] bool is_all_zero(std::span<const std::vector<float>> channels) noexcept;

}  // namespace cvrig
