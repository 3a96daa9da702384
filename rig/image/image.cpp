#include "rig/image/image.hpp"

#include <fmt/format.h>

namespace cvrig {

std::string_view in_words(image_format f) noexcept {
    switch (f) {
        case image_format::intel_hex:
            return "Intel HEX";
        case image_format::uf2:
            return "UF2";
        case image_format::dfu:
            return "DFU";
        case image_format::elf:
            return "ELF";
        case image_format::raw_binary:
            return "raw binary";
    }
    return "";
}

std::string address_in_words(std::uint64_t address) {
    return fmt::format("0x{:08X}", address);
}

}  // namespace cvrig
