#include <fmt/format.h>

#include "rig/image/crc32.hpp"
#include "rig/image/fault_list.hpp"
#include "rig/image/formats.hpp"
#include "rig/image/little_endian.hpp"
#include "rig/image/segment_collector.hpp"

namespace cvrig {

namespace {

constexpr std::size_t suffix_bytes = 16;
constexpr std::uint32_t addressed = 0x011A;

}  // namespace

firmware_image read_dfu(std::span<const std::byte> file) {
    firmware_image out;
    out.format = image_format::dfu;
    out.is_placed = false;
    out.carries_checksum = true;
    fault_list faults;
    std::size_t content = file.size();
    const auto from_end = [&](std::size_t n) { return file.size() - n; };
    if (file.size() < suffix_bytes || little_endian<3>(file, from_end(8)) != 0x444655) {
        faults.structure("The last 16 bytes are no DFU suffix: the signature UFD is not there.");
    } else {
        const auto length = little_endian<1>(file, from_end(5));
        if (length < suffix_bytes || length > file.size())
            faults.structure(fmt::format(
                "The DFU suffix says that it is {} bytes long, which cannot be.", length));
        else
            content -= length;
        const auto stated = little_endian<4>(file, from_end(4));
        const auto is = crc32(file.first(from_end(4)), crc32_variants[1]);
        if (stated != is)
            faults.checksum(fmt::format(
                "The DFU suffix has the CRC {:08X}, and the bytes of the file make {:08X}.", stated,
                is));
        const auto release = little_endian<2>(file, from_end(10));
        out.variant =
            fmt::format("bcdDFU {:04X}, vendor {:04X}, product {:04X}, device {:04X}", release,
                        little_endian<2>(file, from_end(12)), little_endian<2>(file, from_end(14)),
                        little_endian<2>(file, from_end(16)));
        if (release == addressed)
            out.unreadable =
                "It is of the variant bcdDFU 011A, whose content has addresses of its own that are "
                "not read.";
    }
    segment_collector all{"byte"};
    all.add(0, file.first(content), 0);
    out.segments = all.joined(faults);
    faults.hand_over(out);
    return out;
}

}  // namespace cvrig
