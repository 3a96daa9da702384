#pragma once

#include <span>
#include <string>

namespace ferrule {

/// Each takes the words after its own name and returns an exit status; all throw user_mistake.
int render_command(std::span<const std::string> words);
int calibrate_command(std::span<const std::string> words);

}  // namespace ferrule
