#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "rig/image/fault_list.hpp"
#include "rig/image/image.hpp"

namespace cvrig {

/// Puts the pieces of a file (records, blocks, sections) together by address. Holds every byte once.
class segment_collector {
public:
    /// `piece` names what a piece is, for sentences: "line", "block".
    explicit segment_collector(std::string piece) : piece_{std::move(piece)} {}

    void add(std::uint64_t address, std::span<const std::byte> bytes, std::size_t number);

    /// The stretches by address. Pieces that overlap are a fault if they differ there, else a
    /// warning.
    [[nodiscard]] std::vector<image_segment> joined(fault_list& faults);

private:
    struct part {
        std::uint64_t address;
        std::size_t begin, count;  ///< in pool_
        std::size_t number;
    };
    void lay_over(image_segment& below, const part& p, fault_list& faults) const;

    std::string piece_;
    std::vector<std::byte> pool_;
    std::vector<part> pieces_;
};

}  // namespace cvrig
