#include "rig/cli/caution.hpp"

#include <fmt/format.h>

namespace cvrig {

std::string before_playing(const std::string& interface, const std::string& what) {
    return fmt::format(
        "{} through {}. Keep loudspeakers and headphones away from the CV outputs: DC burns coils "
        "and can be silent.\n",
        what, interface);
}

}  // namespace cvrig
