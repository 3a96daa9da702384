#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string_view>

namespace cvrig {

/// One way of making a CRC of 32 bits, by the parameters under which CRCs are published.
///
/// Source: R. N. Williams, "A painless guide to CRC error detection algorithms", version 3, 1993,
///         section 15 (the model); names, parameters and check values as in the catalogue of
///         parametrised CRC algorithms (CRC RevEng, from memory).
struct crc32_variant {
    std::string_view name;
    std::uint32_t polynomial;  ///< highest power left out, highest coefficient in the highest bit
    std::uint32_t start;
    bool reflected;          ///< bytes go in, and the register comes out, lowest bit first
    std::uint32_t inverted;  ///< exclusive-or at the end
};

/// CRC-32/ISO-HDLC (IEEE 802.3, zlib, gzip), JAMCRC (USB DFU), BZIP2, MPEG-2, ISCSI (Castagnoli).
inline constexpr std::array crc32_variants{
    crc32_variant{"CRC-32/ISO-HDLC", 0x04C11DB7, 0xFFFFFFFF, true, 0xFFFFFFFF},
    crc32_variant{"CRC-32/JAMCRC", 0x04C11DB7, 0xFFFFFFFF, true, 0},
    crc32_variant{"CRC-32/BZIP2", 0x04C11DB7, 0xFFFFFFFF, false, 0xFFFFFFFF},
    crc32_variant{"CRC-32/MPEG-2", 0x04C11DB7, 0xFFFFFFFF, false, 0},
    crc32_variant{"CRC-32/ISCSI", 0x1EDC6F41, 0xFFFFFFFF, true, 0xFFFFFFFF}};

[[nodiscard]] std::uint32_t crc32(std::span<const std::byte> bytes,
                                  const crc32_variant& how = crc32_variants[0]) noexcept;

}  // namespace cvrig
