#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

namespace cvrig {

/// The number that the first `Count` bytes at `at` make, lowest byte first; the caller has made sure
/// that they are there.
template <std::size_t Count>
[[nodiscard]] inline std::uint32_t little_endian(std::span<const std::byte> bytes,
                                                 std::size_t at) noexcept {
    std::uint32_t number = 0;
    for (std::size_t i = 0; i < Count; ++i)
        number |= std::to_integer<std::uint32_t>(bytes[at + i]) << (8 * i);
    return number;
}

}  // namespace cvrig
