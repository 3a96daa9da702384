#pragma once

#include <cstddef>
#include <span>

#include "rig/image/image.hpp"

namespace cvrig {

/// Intel HEX: lines of hexadecimal digits with an address and a sum each.
///
/// Source:  Intel, "Hexadecimal Object File Format Specification", revision A, 6 January 1988.
/// Faults:  a wrong sum, length or character, an unknown record type, data past the end of their
///          64 KiB (loaders differ in where the rest goes), no end record or more after it.
[[nodiscard]] firmware_image read_intel_hex(std::span<const std::byte> file);

/// UF2: blocks of 512 bytes with an address each, in any order, repeated or not.
///
/// Source:  "USB Flashing Format (UF2)", the public specification in the repository microsoft/uf2.
/// Faults:  a wrong magic number, length, alignment or numbering, missing and contradicting blocks.
///          Blocks that are not meant for the flash, and those of a second family, are left out.
[[nodiscard]] firmware_image read_uf2(std::span<const std::byte> file);

/// A raw binary with the suffix of USB device firmware upgrade.
///
/// Source:  USB Implementers Forum, "Device Class Specification for Device Firmware Upgrade",
///          version 1.1, 5 August 2004, appendices B and C. bcdDFU 011Ah is the variant whose
///          content has addresses of its own; those are not read.
/// Faults:  no suffix, a length that cannot be, a wrong CRC.
[[nodiscard]] firmware_image read_dfu(std::span<const std::byte> file);

/// ELF of 32 or 64 bits, little endian: what is loaded counts at the address where it is stored
/// (p_paddr), and what is kept free or copied at the one where it runs (sh_addr).
///
/// Source:  TIS Committee, "Executable and Linking Format (ELF) Specification", version 1.2, 1995;
///          read by libelf (elfutils).
/// Faults:  headers and contents outside the file, big endian, contents that overlap in it.
[[nodiscard]] firmware_image read_elf(std::span<const std::byte> file);

}  // namespace cvrig
