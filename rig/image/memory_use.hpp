#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "rig/image/image.hpp"

namespace cvrig {

/// A stretch of a processor's addresses.
struct address_range {
    std::uint64_t from{0};
    std::uint64_t size{0};

    /// Without overflow, whatever the numbers.
    [[nodiscard]] bool holds(std::uint64_t address) const noexcept {
        return address >= from && address - from < size;
    }
};

/// How many addresses of a range the image takes: contents and rooms, each address once.
[[nodiscard]] std::uint64_t bytes_used(const firmware_image& image, const address_range& in);

/// What lies in none of the ranges: the parts of contents and rooms that are left over.
[[nodiscard]] std::vector<address_range> outside(const firmware_image& image,
                                                 std::span<const address_range> ranges);

/// From the first content in the range to the last, with FFh (erased flash) in the gaps; empty if
/// there is none, or if the gaps would be most of it and more than `most_bytes`.
[[nodiscard]] std::vector<std::byte> contents(const firmware_image& image, const address_range& in,
                                              std::uint64_t most_bytes);

/// Texts as in `strings` of GNU binutils: runs of printable ASCII characters and
/// tabulators, `shortest` or more.
[[nodiscard]] std::vector<std::string> texts_in(const firmware_image& image,
                                                std::size_t shortest = 4);

}  // namespace cvrig
