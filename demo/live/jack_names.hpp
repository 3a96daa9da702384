#pragma once

#include "demo/block.hpp"

#include <string_view>

namespace ferrule {

/// The module's jacks and outputs as they are called outside, in the order of their enumerations.
inline constexpr std::array<std::string_view, jack_count> jack_names{"pitch", "gate",   "accent",
                                                                     "slide", "cutoff", "decay"};
inline constexpr std::array<std::string_view, output_count> output_names{"left", "right"};

}  // namespace ferrule
