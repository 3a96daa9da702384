#include "rig/console/stream_port.hpp"

namespace cvrig {

opened_port open_tcp_port(const console_settings& how) {
    constexpr std::chrono::milliseconds wait{2000};
    auto opened = connect_to(how.host, how.port, wait);
    if (!opened.problem.empty()) return {nullptr, std::move(opened.problem)};
    return {std::make_unique<stream_port>(std::move(opened.stream), how.path), {}};
}

}  // namespace cvrig
