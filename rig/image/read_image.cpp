#include "rig/image/read_image.hpp"

#include "rig/image/formats.hpp"
#include "rig/image/little_endian.hpp"

namespace cvrig {

namespace {

firmware_image read_raw(std::span<const std::byte> file) {
    firmware_image out;
    out.is_placed = false;
    if (file.empty())
        out.faults.push_back({image_fault::kind::structure, "The file is empty."});
    else
        out.segments.push_back({0, {file.begin(), file.end()}});
    return out;
}

bool is_intel_hex(std::span<const std::byte> file) {
    for (const auto byte : file) {
        const char c = static_cast<char>(byte);
        if (c != '\r' && c != '\n') return c == ':';
    }
    return false;
}

}  // namespace

image_format format_of(std::span<const std::byte> file) noexcept {
    constexpr std::uint32_t elf_magic = 0x464C457F;
    constexpr std::uint32_t uf2_magic = 0x0A324655;
    constexpr std::uint32_t suffix_signature = 0x444655;
    const auto n = file.size();
    if (n >= 4 && little_endian<4>(file, 0) == elf_magic) return image_format::elf;
    if (n >= 4 && little_endian<4>(file, 0) == uf2_magic) return image_format::uf2;
    if (n >= 16 && little_endian<3>(file, n - 8) == suffix_signature) return image_format::dfu;
    return is_intel_hex(file) ? image_format::intel_hex : image_format::raw_binary;
}

firmware_image read_image(std::span<const std::byte> file, std::optional<image_format> wanted) {
    auto format = format_of(file);
    if (format == image_format::raw_binary && wanted) format = *wanted;
    switch (format) {
        case image_format::intel_hex:
            return read_intel_hex(file);
        case image_format::uf2:
            return read_uf2(file);
        case image_format::dfu:
            return read_dfu(file);
        case image_format::elf:
            return read_elf(file);
        case image_format::raw_binary:
            break;
    }
    return read_raw(file);
}

}  // namespace cvrig
