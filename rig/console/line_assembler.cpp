#include "rig/console/line_assembler.hpp"

#include <fmt/format.h>
#include <utf8.h>

#include <algorithm>
#include <iterator>

namespace cvrig {

namespace {

bool is_line_end(char c) {
    return c == '\n' || c == '\r';
}

bool is_hex(char c) {
    return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f');
}

/// "\x1f" at the beginning of `text`.
bool begins_with_a_byte(std::string_view text) {
    return text.size() >= 4 && text[0] == '\\' && text[1] == 'x' && is_hex(text[2]) &&
           is_hex(text[3]);
}

void spell(std::string& out, char c) {
    fmt::format_to(std::back_inserter(out), "\\x{:02x}", static_cast<unsigned char>(c));
}

/// Control characters of ASCII and of ISO 8859-1 (C2 80 to C2 9F), and what looks like a byte spelled
/// out.
bool must_be_spelled(std::string_view text, std::size_t i) {
    const auto byte = [&](std::size_t at) {
        return at < text.size() ? static_cast<unsigned char>(text[at]) : 0U;
    };
    if (byte(i) < 0x20) return text[i] != '\t';
    if (byte(i) == 0x7F) return true;
    if (byte(i) == 0xC2) return byte(i + 1) >= 0x80 && byte(i + 1) < 0xA0;
    if (i > 0 && byte(i - 1) == 0xC2) return byte(i) < 0xA0;
    return text[i] == '\\' && byte(i + 1) == 'x';
}

}  // namespace

std::string spelled_out(std::string_view bytes) {
    std::string out;
    out.reserve(bytes.size());
    while (!bytes.empty()) {
        const auto valid = static_cast<std::size_t>(utf8::find_invalid(bytes.begin(), bytes.end()) -
                                                    bytes.begin());
        for (std::size_t i = 0; i < valid; ++i) {
            if (must_be_spelled(bytes, i)) {
                spell(out, bytes[i]);
            } else {
                out += bytes[i];
            }
        }
        if (valid == bytes.size()) break;
        spell(out, bytes[valid]);
        bytes.remove_prefix(valid + 1);
    }
    return out;
}

std::string_view bare_text(std::string_view line) {
    for (;;) {
        if (begins_with_a_byte(line)) {
            line.remove_prefix(4);
        } else if (!line.empty() && line.front() == ' ') {
            line.remove_prefix(1);
        } else {
            break;
        }
    }
    for (;;) {
        if (line.size() >= 4 && begins_with_a_byte(line.substr(line.size() - 4))) {
            line.remove_suffix(4);
        } else if (!line.empty() && line.back() == ' ') {
            line.remove_suffix(1);
        } else {
            return line;
        }
    }
}

std::vector<std::string> line_assembler::add(std::string_view bytes) {
    std::vector<std::string> lines;
    while (!bytes.empty()) {
        const auto* const end = std::find_if(bytes.begin(), bytes.end(), is_line_end);
        const auto part = bytes.substr(0, static_cast<std::size_t>(end - bytes.begin()));
        const auto kept = std::min(part.size(), longest - held_.size());
        held_ += part.substr(0, kept);
        cut_ += part.size() - kept;
        bytes.remove_prefix(part.size());
        if (bytes.empty()) break;
        bytes.remove_prefix(1);
        if (auto line = finish(); !line.empty()) lines.push_back(std::move(line));
    }
    return lines;
}

std::string line_assembler::unfinished() const {
    auto line = spelled_out(held_);
    if (cut_ > 0) line += fmt::format(" [and {} more bytes]", cut_);
    return line;
}

std::string line_assembler::finish() {
    auto line = unfinished();
    held_.clear();
    cut_ = 0;
    return line;
}

}  // namespace cvrig
