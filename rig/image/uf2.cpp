#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <optional>
#include <string>
#include <utility>

#include "rig/image/fault_list.hpp"
#include "rig/image/formats.hpp"
#include "rig/image/little_endian.hpp"
#include "rig/image/segment_collector.hpp"

namespace cvrig {

namespace {

constexpr std::size_t block_bytes = 512;
constexpr std::size_t data_at = 32;
constexpr std::size_t most_payload = 476;
constexpr std::uint32_t not_main_flash = 0x00000001;
constexpr std::uint32_t file_container = 0x00001000;
constexpr std::uint32_t has_family = 0x00002000;
constexpr std::uint32_t has_md5 = 0x00004000;
constexpr std::uint32_t has_tags = 0x00008000;
constexpr std::uint32_t version_tag = 0x9FC7BC;

struct block {
    std::uint32_t flags, address, size, number, total, family;
    std::span<const std::byte> whole;

    [[nodiscard]] std::span<const std::byte> payload() const {
        return whole.subspan(data_at, size);
    }
};

class uf2_reader {
public:
    void read(std::span<const std::byte> file) {
        if (file.empty()) faults_.structure("The file is empty.");
        while (!file.empty()) {
            if (file.size() < block_bytes) {
                faults_.structure(fmt::format(
                    "The file ends in the middle of block {}: {} bytes of {} are there.", at_,
                    file.size(), block_bytes));
                break;
            }
            if (const auto b = header(file.first(block_bytes))) take_in(*b);
            file = file.subspan(block_bytes);
            ++at_;
        }
        require_all();
    }

    firmware_image take() {
        firmware_image out;
        out.format = image_format::uf2;
        if (family_ && *family_ != 0) out.variant = fmt::format("family 0x{:08X}", *family_);
        out.stated_version = std::move(version_);
        out.segments = pieces_.joined(faults_);
        faults_.hand_over(out);
        return out;
    }

private:
    void fault(const std::string& what) {
        faults_.structure(
            fmt::format("Block {} (offset 0x{:X}) {}.", at_, at_ * block_bytes, what));
    }

    std::optional<block> header(std::span<const std::byte> b) {
        const auto word = [&](std::size_t at) { return little_endian<4>(b, at); };
        if (word(0) != 0x0A324655 || word(4) != 0x9E5D5157 || word(508) != 0x0AB16F30) {
            fault("has a wrong magic number, so that no boot loader takes it");
            return std::nullopt;
        }
        const auto flags = word(8);
        return block{flags,    word(12), word(16),
                     word(20), word(24), (flags & has_family) != 0 ? word(28) : 0,
                     b};
    }

    void take_in(const block& b) {
        if (const auto wrong = form_fault(b); !wrong.empty()) return fault(wrong);
        if (!family_) family_ = b.family;
        if (b.family != *family_) {
            if (!std::exchange(told_family_, true))
                faults_.warn(
                    fmt::format("Block {} on are for another family, 0x{:08X}; only the "
                                "first one is judged.",
                                at_, b.family));
            return;
        }
        if (!total_) total_ = b.total;
        if (b.total != *total_)
            fault(fmt::format("says that there are {} blocks, and the first one says {}", b.total,
                              *total_));
        const auto [old, is_new] = seen_.try_emplace(b.number, b.whole);
        if (!is_new) {
            if (!std::ranges::equal(old->second, b.whole))
                fault(fmt::format("has the number {} of another one with other content", b.number));
            return;
        }
        if ((b.flags & has_md5) != 0 && !std::exchange(told_md5_, true))
            faults_.warn("The file carries MD5 sums, which are not verified.");
        if ((b.flags & has_tags) != 0) read_tags(b);
        if ((b.flags & (not_main_flash | file_container)) != 0) {
            if (!std::exchange(told_ignored_, true))
                faults_.warn(
                    fmt::format("Block {} on holds content that is not for the main flash; "
                                "it is ignored.",
                                at_));
            return;
        }
        pieces_.add(b.address, b.payload(), at_);
    }

    static std::string form_fault(const block& b) {
        const std::size_t room = (b.flags & has_md5) != 0 ? most_payload - 24 : most_payload;
        if (b.size > room)
            return fmt::format("says that it has {} bytes of at most {}", b.size, room);
        if (b.size % 4 != 0 || b.address % 4 != 0)
            return "has an address or size that is no multiple of 4";
        if (b.number >= b.total)
            return fmt::format("has the number {}, and there are only {}", b.number, b.total);
        return {};
    }

    void read_tags(const block& b) {
        std::size_t at = data_at + b.size;
        while (at + 4 <= data_at + most_payload) {
            const auto size = little_endian<1>(b.whole, at);
            const auto type = little_endian<3>(b.whole, at + 1);
            if (size == 0) return;
            if (size < 4 || at + size > data_at + most_payload)
                return fault("has an extension tag that runs out of the block");
            if (type == version_tag && version_.empty())
                for (std::size_t i = at + 4; i < at + size; ++i)
                    version_ += static_cast<char>(b.whole[i]);
            at += (size + 3) / 4 * 4;
        }
    }

    void require_all() {
        if (!total_ || seen_.size() == *total_) return;
        std::uint32_t missing = 0;
        for (const auto& entry : seen_) {
            if (entry.first != missing) break;
            ++missing;
        }
        faults_.structure(fmt::format("{} of {} blocks are there; number {} is missing.",
                                      seen_.size(), *total_, missing));
    }

    fault_list faults_;
    segment_collector pieces_{"block"};
    std::size_t at_{0};
    std::optional<std::uint32_t> family_, total_;
    std::map<std::uint32_t, std::span<const std::byte>> seen_;
    std::string version_;
    bool told_family_{false};
    bool told_md5_{false};
    bool told_ignored_{false};
};

}  // namespace

firmware_image read_uf2(std::span<const std::byte> file) {
    uf2_reader reader;
    reader.read(file);
    return reader.take();
}

}  // namespace cvrig
