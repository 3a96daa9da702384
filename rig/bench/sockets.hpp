#pragma once

#include <cstddef>
#include <string>

#include "rig/bench/bench.hpp"

namespace cvrig {

/// What a person looks for on the interface: the name printed beside the socket, or else "output 3"
/// and "input 3".
[[nodiscard]] std::string socket_of(const bench_output& o);
[[nodiscard]] std::string socket_of(const bench_input& i);

}  // namespace cvrig
