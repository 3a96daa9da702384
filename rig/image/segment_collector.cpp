#include "rig/image/segment_collector.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace cvrig {

void segment_collector::add(std::uint64_t address, std::span<const std::byte> bytes,
                            std::size_t number) {
    if (bytes.empty()) return;
    pieces_.push_back({address, pool_.size(), bytes.size(), number});
    pool_.insert(pool_.end(), bytes.begin(), bytes.end());
}

void segment_collector::lay_over(image_segment& below, const part& p, fault_list& faults) const {
    const auto at = static_cast<std::size_t>(p.address - below.address);
    const auto common = std::min(p.count, below.bytes.size() - at);
    const auto bytes = std::span{pool_}.subspan(p.begin, p.count);
    const auto there = std::span{below.bytes}.subspan(at, common);
    if (std::ranges::equal(there, bytes.first(common))) {
        if (common > 0)
            faults.warn(fmt::format("The {} bytes at {} are given twice, once in {} {}.", common,
                                    address_in_words(p.address), piece_, p.number));
    } else {
        const auto differs = std::ranges::mismatch(there, bytes.first(common)).in1 - there.begin();
        faults.structure(fmt::format(
            "Different bytes are given for address {}, once in {} {}.",
            address_in_words(p.address + static_cast<std::uint64_t>(differs)), piece_, p.number));
    }
    const auto rest = bytes.subspan(common);
    below.bytes.insert(below.bytes.end(), rest.begin(), rest.end());
}

std::vector<image_segment> segment_collector::joined(fault_list& faults) {
    std::ranges::stable_sort(pieces_, {}, [](const part& p) {
        return std::pair{p.address, p.number};
    });
    std::vector<image_segment> out;
    for (const auto& p : pieces_) {
        if (!out.empty() && p.address - out.back().address <= out.back().bytes.size()) {
            lay_over(out.back(), p, faults);
            continue;
        }
        const auto bytes = std::span{pool_}.subspan(p.begin, p.count);
        out.push_back({p.address, {bytes.begin(), bytes.end()}});
    }
    return out;
}

}  // namespace cvrig
