#pragma once

#include <cstddef>
#include <optional>
#include <span>

#include "rig/image/image.hpp"

namespace cvrig {

/// What a file is by its own marks: ELF and UF2 by their magic numbers, DFU by its suffix, Intel HEX
/// by its first character; a raw binary has none.
[[nodiscard]] image_format format_of(std::span<const std::byte> file) noexcept;

/// Reads a firmware file. Never throws for what is in it; takes memory in proportion to its length.
///
/// `wanted`: how to read a file that has no marks, so that one whose first bytes are damaged is told
///           what is wrong with it.
[[nodiscard]] firmware_image read_image(std::span<const std::byte> file,
                                        std::optional<image_format> wanted = {});

}  // namespace cvrig
