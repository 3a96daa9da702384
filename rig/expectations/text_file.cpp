#include "rig/expectations/text_file.hpp"

#include <fmt/format.h>
#include <utf8.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <system_error>

#include "rig/expectations/user_error.hpp"

namespace cvrig {

namespace {

constexpr std::uintmax_t most_bytes = std::uintmax_t{1024} * 1024;

[[noreturn]] void refuse(const std::string& file, std::string sentence) {
    throw user_error{std::vector{complaint{place{file, 0, 0}, std::move(sentence)}}};
}

place place_of(const std::string& file, std::string_view text, std::size_t at) {
    const auto before = text.substr(0, at);
    const auto line = std::count(before.begin(), before.end(), '\n') + 1;
    const auto start = before.rfind('\n') + 1;  // npos + 1 is 0
    const auto column =
        std::count_if(before.begin() + static_cast<std::ptrdiff_t>(start), before.end(),
                      [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; });
    return {file, static_cast<int>(line), static_cast<int>(column) + 1};
}

void require_ordinary_file(const std::string& file) {
    std::error_code failed;
    const auto status = std::filesystem::status(file, failed);
    if (status.type() == std::filesystem::file_type::not_found) {
        refuse(file, "There is no such file; check the name and the folder.");
    }
    if (failed) refuse(file, "This file cannot be read: " + failed.message() + ".");
    if (std::filesystem::is_directory(status)) {
        refuse(file, "This is a folder; name a file in it.");
    }
    if (!std::filesystem::is_regular_file(status)) {
        refuse(file, "This is not an ordinary file; save its contents in one first.");
    }
    const auto size = std::filesystem::file_size(file, failed);
    if (!failed && size > most_bytes) {
        refuse(file, fmt::format("This file has {:.1f} MiB, and 1 MiB is allowed; it is probably "
                                 "another kind of file.",
                                 static_cast<double>(size) / static_cast<double>(most_bytes)));
    }
}

std::string read_bytes(const std::string& file) {
    std::ifstream in{file, std::ios::binary};
    std::string bytes(most_bytes + 1, '\0');
    if (in) in.read(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    if (!in.is_open() || in.bad() || (in.fail() && !in.eof())) {
        refuse(file, "This file cannot be read; check its permissions.");
    }
    bytes.resize(static_cast<std::size_t>(in.gcount()));
    if (bytes.size() > most_bytes) refuse(file, "This file has more than the allowed 1 MiB.");
    return bytes;
}

bool is_control(const std::string& text, std::size_t i) {
    const auto c = static_cast<unsigned char>(text[i]);
    if (c == '\r') return i + 1 >= text.size() || text[i + 1] != '\n';
    return c != '\n' && c != '\t' && (c < 0x20 || c == 0x7F);
}

void require_text(const std::string& file, const std::string& text) {
    const auto bad = utf8::find_invalid(text.begin(), text.end());
    const auto valid = static_cast<std::size_t>(bad - text.begin());
    for (std::size_t i = 0; i < valid; ++i) {
        if (!is_control(text, i)) continue;
        throw user_error{std::vector{
            complaint{place_of(file, text, i),
                      fmt::format("Byte 0x{:02X} is no text; save the file as plain UTF-8 text.",
                                  static_cast<unsigned char>(text[i]))}}};
    }
    if (bad == text.end()) return;
    throw user_error{std::vector{complaint{
        place_of(file, text, valid),
        fmt::format("Byte 0x{:02X} is not valid UTF-8; save the file as plain UTF-8 text.",
                    static_cast<unsigned char>(*bad))}}};
}

}  // namespace

std::string read_text_file(const std::string& file) {
    require_ordinary_file(file);
    auto text = read_bytes(file);
    if (text.starts_with("\xEF\xBB\xBF")) text.erase(0, 3);
    require_text(file, text);
    if (text.find_first_not_of(" \t\r\n") == std::string::npos) {
        refuse(file, "This file is empty.");
    }
    return text;
}

}  // namespace cvrig
