#include "rig/platform/utc_now.hpp"

#include <fmt/chrono.h>

#include <chrono>

namespace cvrig {

std::string utc_now() {
    const auto now =
        std::chrono::time_point_cast<std::chrono::seconds>(std::chrono::system_clock::now());
    return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}",
                       fmt::gmtime(std::chrono::system_clock::to_time_t(now)));
}

}  // namespace cvrig
