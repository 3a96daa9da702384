#include <filesystem>

#include "rig/console/stream_port.hpp"

namespace cvrig {

opened_port open_terminal_port(const console_settings& how) {
    auto opened = open_terminal(how.path);
    if (!opened.problem.empty()) return {nullptr, std::move(opened.problem)};
    // A link keeps its name while what it leads to changes; the log should tell.
    std::error_code failed;
    const auto real = std::filesystem::canonical(how.path, failed);
    return {
        std::make_unique<stream_port>(std::move(opened.stream), failed ? how.path : real.string()),
        {}};
}

}  // namespace cvrig
