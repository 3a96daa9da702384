#include "rig/link/interface.hpp"

#include <algorithm>

namespace cvrig {

namespace {

std::size_t longest(const std::vector<std::vector<float>>& channels, std::size_t loop) {
    std::size_t n = loop;
    for (const auto& c : channels) n = std::max(n, c.size());
    return n;
}

}  // namespace

std::size_t volts_out::size() const noexcept {
    return longest(outputs, loop.size());
}

std::size_t volts_in::size() const noexcept {
    return longest(inputs, loop.size());
}

}  // namespace cvrig
