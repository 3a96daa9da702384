#pragma once

#include "demo/image.hpp"

#include <string>
#include <string_view>

namespace ferrule {

/// The flash of an invented processor: 128 KiB from 0x08000000, RAM from 0x20000000.
inline constexpr std::uint32_t flash_begin = 0x08000000;

/// What a linker makes of a build: an Intel HEX file (Intel, revision A, 1988) with a vector table,
/// the text "Ferrule firmware VERSION", the build's description, made-up code, and a CRC-32
/// (ISO-HDLC, low byte first) of all that at the end.
[[nodiscard]] std::string link_firmware(const image& build, std::string_view description);

/// The description in a linked file. Like many boot loaders it checks nothing else: that is for
/// whoever ships the file. Throws user_mistake, which names `file`, if there is none.
[[nodiscard]] std::string description_in(std::string_view intel_hex, const std::string& file);

}  // namespace ferrule
