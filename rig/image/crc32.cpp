#include "rig/image/crc32.hpp"

namespace cvrig {

namespace {

std::uint32_t reversed(std::uint32_t x) noexcept {
    std::uint32_t out = 0;
    for (int i = 0; i < 32; ++i) out |= ((x >> i) & 1U) << (31 - i);
    return out;
}

}  // namespace

std::uint32_t crc32(std::span<const std::byte> bytes, const crc32_variant& how) noexcept {
    std::array<std::uint32_t, 256> table{};
    const std::uint32_t mirrored = reversed(how.polynomial);
    for (std::uint32_t i = 0; i < 256; ++i) {
        std::uint32_t r = how.reflected ? i : i << 24;
        for (int bit = 0; bit < 8; ++bit)
            r = how.reflected ? (r >> 1) ^ ((r & 1U) != 0 ? mirrored : 0U)
                              : (r << 1) ^ ((r >> 31) != 0 ? how.polynomial : 0U);
        table[i] = r;
    }
    std::uint32_t r = how.reflected ? reversed(how.start) : how.start;
    for (const auto byte : bytes) {
        const auto in = std::to_integer<std::uint32_t>(byte);
        r = how.reflected ? (r >> 8) ^ table[(r ^ in) & 0xFFU] : (r << 8) ^ table[(r >> 24) ^ in];
    }
    return r ^ how.inverted;
}

}  // namespace cvrig
