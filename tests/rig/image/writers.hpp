#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "rig/image/image.hpp"

/// Plain writers of firmware files, for reading back what they wrote. They share nothing with the
/// readers.
namespace cvrig::testing {

inline std::string hex_record(std::uint32_t address, unsigned type,
                              const std::vector<std::byte>& data) {
    const char* digits = "0123456789ABCDEF";
    std::vector<unsigned> all{static_cast<unsigned>(data.size()), address >> 8 & 0xFFU,
                              address & 0xFFU, type};
    for (const auto b : data) all.push_back(std::to_integer<unsigned>(b));
    unsigned sum = 0;
    for (const unsigned b : all) sum += b;
    all.push_back((0x100U - (sum & 0xFFU)) & 0xFFU);
    std::string line = ":";
    for (const unsigned b : all) {
        line += digits[b / 16];
        line += digits[b % 16];
    }
    return line + "\n";
}

/// Segments by address and apart from each other, in records of `width` bytes.
inline std::string as_intel_hex(const std::vector<image_segment>& segments, std::size_t width) {
    std::string out;
    for (const auto& s : segments) {
        for (std::size_t at = 0; at < s.bytes.size();) {
            const std::uint64_t address = s.address + at;
            const std::uint64_t to_bank_end = 0x10000 - (address & 0xFFFF);
            const auto n = static_cast<std::size_t>(
                std::min<std::uint64_t>({width, s.bytes.size() - at, to_bank_end}));
            out += hex_record(0, 4,
                              {static_cast<std::byte>(address >> 24 & 0xFF),
                               static_cast<std::byte>(address >> 16 & 0xFF)});
            const auto first = s.bytes.begin() + static_cast<std::ptrdiff_t>(at);
            out += hex_record(static_cast<std::uint32_t>(address & 0xFFFF), 0,
                              {first, first + static_cast<std::ptrdiff_t>(n)});
            at += n;
        }
    }
    return out + hex_record(0, 1, {});
}

inline void put(std::vector<std::byte>& to, std::size_t at, std::uint32_t word) {
    for (std::size_t i = 0; i < 4; ++i) to[at + i] = static_cast<std::byte>(word >> 8 * i & 0xFF);
}

/// Of a segment whose address and length are multiples of 4.
inline std::vector<std::byte> as_uf2(const image_segment& s, std::size_t payload_bytes) {
    const auto total = (s.bytes.size() + payload_bytes - 1) / payload_bytes;
    std::vector<std::byte> out;
    for (std::size_t i = 0; i < total; ++i) {
        const auto at = i * payload_bytes;
        const auto n = std::min(payload_bytes, s.bytes.size() - at);
        std::vector<std::byte> block(512);
        put(block, 0, 0x0A324655);
        put(block, 4, 0x9E5D5157);
        put(block, 12, static_cast<std::uint32_t>(s.address + at));
        put(block, 16, static_cast<std::uint32_t>(n));
        put(block, 20, static_cast<std::uint32_t>(i));
        put(block, 24, static_cast<std::uint32_t>(total));
        put(block, 508, 0x0AB16F30);
        std::copy_n(s.bytes.begin() + static_cast<std::ptrdiff_t>(at), n, block.begin() + 32);
        out.insert(out.end(), block.begin(), block.end());
    }
    return out;
}

/// An ELF32 file of little end: header, content, segments, sections (the first one empty, as the
/// format wants). Offsets count from the content's beginning.
/// Source: Tool Interface Standard, "Executable and Linking Format" specification 1.2, 1995.
struct elf_builder {
    struct segment {
        std::uint32_t offset, virtual_address, address, size;
    };
    struct section {
        std::uint32_t address, offset, size;
    };
    std::vector<std::byte> content{};
    std::vector<segment> segments{};
    std::vector<section> sections{};

    void add_content(const std::vector<std::byte>& more) {
        content.insert(content.end(), more.begin(), more.end());
    }

    [[nodiscard]] std::vector<std::byte> bytes() const {
        constexpr std::uint32_t header = 52, of_segment = 32, of_section = 40;
        const auto begin = header;
        const auto table = begin + static_cast<std::uint32_t>(content.size());
        const auto segment_count = static_cast<std::uint32_t>(segments.size());
        const auto section_count = static_cast<std::uint32_t>(sections.size()) + 1;
        const auto section_table = table + segment_count * of_segment;
        std::vector<std::byte> out(section_table + section_count * of_section);
        put(out, 0, 0x464C457F);
        put(out, 4, 0x00010101);   // 32 bits, little end, version 1
        put(out, 16, 0x00280002);  // executable, Arm
        put(out, 20, 1);
        put(out, 28, table);
        put(out, 32, section_table);
        put(out, 40, header | of_segment << 16);
        put(out, 44, segment_count | of_section << 16);
        put(out, 48, section_count);  // no names of sections
        std::copy(content.begin(), content.end(), out.begin() + begin);
        for (std::uint32_t i = 0; i < segment_count; ++i) {
            const auto at = table + i * of_segment;
            const auto& s = segments[i];
            put(out, at, 1);  // loaded
            put(out, at + 4, begin + s.offset);
            put(out, at + 8, s.virtual_address);
            put(out, at + 12, s.address);
            put(out, at + 16, s.size);
            put(out, at + 20, s.size);
        }
        for (std::uint32_t i = 1; i < section_count; ++i) {
            const auto at = section_table + i * of_section;
            const auto& s = sections[i - 1];
            put(out, at + 4, 1);  // program content
            put(out, at + 8, 2);  // takes memory
            put(out, at + 12, s.address);
            put(out, at + 16, begin + s.offset);
            put(out, at + 20, s.size);
        }
        return out;
    }
};

}  // namespace cvrig::testing
