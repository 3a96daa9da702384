#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace cvrig {

/// What a firmware file is.
enum class image_format { intel_hex, uf2, dfu, elf, raw_binary };

/// As expectation files and reports write it: "Intel HEX", "UF2", "DFU", "ELF", "raw binary".
[[nodiscard]] std::string_view in_words(image_format f) noexcept;

/// What is wrong with a file, in one plain sentence that names line, block or offset.
struct image_fault {
    enum class kind { structure, checksum };
    kind what{kind::structure};
    std::string sentence;
};

/// Bytes that lie at one stretch of addresses.
struct image_segment {
    std::uint64_t address{0};
    std::vector<std::byte> bytes;
};

/// Memory that the firmware takes when it runs without having content for it in the file.
struct image_room {
    std::uint64_t address{0};
    std::uint64_t size{0};
};

/// A firmware file, as far as it could be read. With faults, what was read before them stands.
struct firmware_image {
    image_format format{image_format::raw_binary};
    std::string variant{};     ///< "ELF32", "bcdDFU 0100, vendor 0483, product DF11"; may be empty
    bool is_placed{true};      ///< false: the file knows no addresses, its first byte is at 0
    std::string unreadable{};  ///< why the use of memory cannot be told; empty if it can
    bool carries_checksum{false};           ///< the format has one of its own
    std::string stated_version{};           ///< of a field that the format has for it; may be empty
    std::vector<image_segment> segments{};  ///< by address; none touches or overlaps the next
    std::vector<image_room> rooms{};        ///< only of formats that tell (ELF)
    std::vector<image_fault> faults{};
    std::vector<std::string> warnings{};
};

/// "0x08000000", with as many digits as it takes but at least eight.
[[nodiscard]] std::string address_in_words(std::uint64_t address);

}  // namespace cvrig
