#include <fmt/format.h>

#include <array>
#include <optional>
#include <string_view>

#include "rig/image/fault_list.hpp"
#include "rig/image/formats.hpp"
#include "rig/image/segment_collector.hpp"

namespace cvrig {

namespace {

struct record {
    std::uint32_t address;  ///< the 16 bits in the record
    std::uint32_t type;
    std::span<const std::byte> data;
};

std::optional<unsigned> digit(char c) {
    if (c >= '0' && c <= '9') return static_cast<unsigned>(c - '0');
    if (c >= 'A' && c <= 'F') return static_cast<unsigned>(c - 'A' + 10);
    if (c >= 'a' && c <= 'f') return static_cast<unsigned>(c - 'a' + 10);
    return std::nullopt;
}

class hex_reader {
public:
    void read(std::string_view text) {
        while (!text.empty()) {
            ++line_;
            const auto end = text.find_first_of("\r\n");
            auto line = text.substr(0, end);
            text.remove_prefix(line.size());
            if (text.starts_with("\r\n")) text.remove_prefix(1);
            if (!text.empty()) text.remove_prefix(1);
            read_line(line);
        }
        if (!ended_) faults_.structure("The file has no end record (:00000001FF); is it cut off?");
    }

    firmware_image take() {
        firmware_image out;
        out.format = image_format::intel_hex;
        out.carries_checksum = true;
        out.segments = pieces_.joined(faults_);
        faults_.hand_over(out);
        return out;
    }

private:
    void fault(const std::string& what) {
        faults_.structure(fmt::format("Line {} {}.", line_, what));
    }

    void read_line(std::string_view line) {
        if (line.empty()) return;
        if (ended_) {
            if (!told_more_) fault("follows the end record, after which nothing is loaded");
            told_more_ = true;
            return;
        }
        if (line.front() != ':') return fault("does not begin with a colon");
        line.remove_prefix(1);
        constexpr std::size_t most_digits = 2 * (255 + 5);
        if (line.size() > most_digits) return fault("is longer than any record can be");
        if (line.size() % 2 != 0) return fault("has half a byte: an odd number of digits");
        const auto count = decode(line);
        if (!count) return;
        obey(*count);
    }

    /// The record's bytes go into bytes_.
    std::optional<record> decode(std::string_view digits) {
        unsigned sum = 0;
        const std::size_t n = digits.size() / 2;
        for (std::size_t i = 0; i < n; ++i) {
            const auto high = digit(digits[2 * i]);
            const auto low = digit(digits[2 * i + 1]);
            if (!high || !low) {
                fault("has a character that is no hexadecimal digit");
                return std::nullopt;
            }
            const unsigned byte = *high * 16 + *low;
            bytes_[i] = static_cast<std::byte>(byte);
            sum += byte;
        }
        constexpr std::size_t frame = 5;
        const auto stated = n == 0 ? 0U : std::to_integer<unsigned>(bytes_[0]);
        if (n < frame || n != stated + frame) {
            fault(fmt::format("says that it has {} data bytes, and has {}", stated,
                              n < frame ? 0 : n - frame));
            return std::nullopt;
        }
        if (sum % 256 != 0) {
            const auto is = std::to_integer<unsigned>(bytes_[n - 1]);
            faults_.checksum(
                fmt::format("Line {} has the checksum {:02X}, and its bytes make {:02X}.", line_,
                            is, (is - sum) & 0xFFU));
        }
        return record{std::to_integer<std::uint32_t>(bytes_[1]) * 256 +
                          std::to_integer<std::uint32_t>(bytes_[2]),
                      std::to_integer<std::uint32_t>(bytes_[3]),
                      std::span{bytes_}.subspan(4, stated)};
    }

    void obey(const record& r) {
        constexpr std::array<std::size_t, 6> lengths{0, 0, 2, 4, 2, 4};
        if (r.type >= lengths.size())
            return fault(fmt::format("is of the unknown record type {:02X}", r.type));
        if (r.type != 0 && r.data.size() != lengths[r.type])
            return fault(fmt::format("has {} data bytes, and a record of type {:02X} has {}",
                                     r.data.size(), r.type, lengths[r.type]));
        switch (r.type) {
            case 0:
                return add_data(r);
            case 1:
                ended_ = true;
                return;
            case 2:
                base_ = number(r) << 4;
                return;
            case 4:
                base_ = number(r) << 16;
                return;
            default:
                return;  // where the program starts
        }
    }

    void add_data(const record& r) {
        if (r.data.empty()) fault("is a data record without data");
        constexpr std::size_t reach = 0x10000;
        if (r.address + r.data.size() > reach)
            return fault("runs past the end of its 64 KiB; split the record there");
        pieces_.add(std::uint64_t{base_} + r.address, r.data, line_);
    }

    static std::uint32_t number(const record& r) {
        return std::to_integer<std::uint32_t>(r.data[0]) * 256 +
               std::to_integer<std::uint32_t>(r.data[1]);
    }

    fault_list faults_;
    segment_collector pieces_{"line"};
    std::array<std::byte, 260> bytes_{};
    std::size_t line_{0};
    std::uint32_t base_{0};
    bool ended_{false};
    bool told_more_{false};
};

}  // namespace

firmware_image read_intel_hex(std::span<const std::byte> file) {
    // Reading bytes as characters is what char is for ([basic.lval]/11).
    const std::string_view text{reinterpret_cast<const char*>(file.data()), file.size()};
    hex_reader reader;
    reader.read(text);
    return reader.take();
}

}  // namespace cvrig
