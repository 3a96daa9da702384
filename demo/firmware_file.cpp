#include "demo/firmware_file.hpp"

#include "demo/user_mistake.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdint>
#include <vector>

namespace ferrule {
namespace {

constexpr std::string_view description_begin = "ferrule image 1\n";
constexpr std::size_t bytes_a_line = 16;

using flash_bytes = std::vector<std::uint8_t>;

void add_word(flash_bytes& to, std::uint32_t word) {
    for (int shift = 0; shift < 32; shift += 8)
        to.push_back(static_cast<std::uint8_t>(word >> shift & 0xFFU));
}

void add_text(flash_bytes& to, std::string_view text) {
    to.insert(to.end(), text.begin(), text.end());
    to.push_back(0);
}

/// The stack's end, where to start, and handlers that all lead to one place.
void add_vectors(flash_bytes& to) {
    constexpr std::uint32_t stack_end = 0x20010000;
    constexpr std::uint32_t start = flash_begin + 0x201;
    constexpr int handlers = 46;
    add_word(to, stack_end);
    add_word(to, start);
    for (int i = 0; i < handlers; ++i) add_word(to, start + 0x40);
}

/// Numbers that look like code; below 0x20 or above 0x7E every fourth byte, so that no text stands
/// in them.
void add_code(flash_bytes& to, std::size_t until) {
    std::uint32_t x = 0x2545F491;
    while (to.size() < until) {
        x ^= x << 13;
        x ^= x >> 17;
        x ^= x << 5;
        add_word(to, (x & 0x00FFFFFFU) | 0xF0000000U);
    }
}

std::uint32_t crc32(const flash_bytes& bytes) {
    std::uint32_t r = 0xFFFFFFFF;
    for (const auto byte : bytes) {
        r ^= byte;
        for (int bit = 0; bit < 8; ++bit) r = (r & 1U) != 0 ? (r >> 1) ^ 0xEDB88320U : r >> 1;
    }
    return ~r;
}

void add_record(std::string& to, unsigned address, unsigned type, std::string_view data) {
    constexpr std::string_view digits = "0123456789ABCDEF";
    unsigned sum = 0;
    const auto put = [&](unsigned byte) {
        to += digits[byte / 16];
        to += digits[byte % 16];
        sum += byte;
    };
    to += ':';
    put(static_cast<unsigned>(data.size()));
    put(address / 256);
    put(address % 256);
    put(type);
    for (const char c : data) put(static_cast<unsigned char>(c));
    put((256 - sum % 256) % 256);
    to += '\n';
}

std::string in_records(const flash_bytes& bytes) {
    constexpr std::size_t bank = 0x10000;
    std::string out;
    for (std::size_t at = 0; at < bytes.size(); at += bytes_a_line) {
        if (at % bank == 0) {
            const auto upper = (flash_begin + at) / bank;
            const std::array<char, 2> data{static_cast<char>(upper / 256),
                                           static_cast<char>(upper % 256)};
            add_record(out, 0, 4, {data.data(), data.size()});
        }
        const auto n = std::min(bytes_a_line, bytes.size() - at);
        const std::string line{bytes.begin() + static_cast<std::ptrdiff_t>(at),
                               bytes.begin() + static_cast<std::ptrdiff_t>(at + n)};
        add_record(out, static_cast<unsigned>(at % bank), 0, line);
    }
    add_record(out, 0, 1, {});
    return out;
}

/// The data of a record; empty for other records and for what is none.
std::string data_of(std::string_view line) {
    constexpr std::size_t frame = 11;  // colon, count, address, type, checksum
    if (line.size() < frame || line.substr(7, 2) != "00") return {};
    std::string out;
    for (std::size_t at = 9; at + 4 <= line.size(); at += 2) {
        unsigned byte = 0;
        std::from_chars(line.data() + at, line.data() + at + 2, byte, 16);
        out += static_cast<char>(byte);
    }
    return out;
}

}  // namespace

std::string link_firmware(const image& build, std::string_view description) {
    flash_bytes bytes;
    add_vectors(bytes);
    add_text(bytes, "Ferrule firmware " +
                        (build.linked.stamp.empty() ? build.version : build.linked.stamp));
    add_text(bytes, description);
    while (bytes.size() % 4 != 0) bytes.push_back(0);
    add_code(bytes, std::max(bytes.size(), build.linked.code_bytes) - 4);
    add_word(bytes, crc32(bytes) ^ (build.linked.wrong_crc ? 1U : 0U));
    return in_records(bytes);
}

std::string description_in(std::string_view intel_hex, const std::string& file) {
    std::string flash;
    while (!intel_hex.empty()) {
        const auto line = intel_hex.substr(0, intel_hex.find_first_of("\r\n"));
        flash += data_of(line);
        intel_hex.remove_prefix(std::min(intel_hex.size(), line.size() + 1));
    }
    const auto begin = flash.find(description_begin);
    if (begin == std::string::npos)
        throw user_mistake(file +
                           " is no firmware of Ferrule: it carries no description of a build.");
    return flash.substr(begin, flash.find('\0', begin) - begin);
}

}  // namespace ferrule
