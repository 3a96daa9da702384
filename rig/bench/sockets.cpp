#include "rig/bench/sockets.hpp"

#include <fmt/format.h>

namespace cvrig {

std::string socket_of(const bench_output& o) {
    return o.socket.empty() ? fmt::format("output {}", o.channel) : o.socket;
}

std::string socket_of(const bench_input& i) {
    return i.socket.empty() ? fmt::format("input {}", i.channel) : i.socket;
}

}  // namespace cvrig
