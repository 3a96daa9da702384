#include "rig/expectations/wording.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "rig/expectations/nearest.hpp"

namespace cvrig {

namespace {

constexpr std::size_t most_listed = 16;

bool is_blank(char c) {
    return c == ' ' || c == '\t' || c == '\n' || c == '\r';
}

/// The start of `text` that fits, cut between characters of UTF-8.
std::string_view shortened(std::string_view text, std::size_t most_bytes) {
    if (text.size() <= most_bytes) return text;
    std::size_t end = most_bytes;
    while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80U) --end;
    return text.substr(0, end);
}

}  // namespace

std::string quoted(std::string_view text, std::size_t most_bytes) {
    const auto kept = shortened(text, most_bytes);
    std::string out{"'"};
    for (const char c : kept) {
        const auto byte = static_cast<unsigned char>(c);
        out += byte < 0x20 || byte == 0x7F ? ' ' : c;
    }
    if (kept.size() < text.size()) out += "...";
    return out + "'";
}

std::string listed(std::span<const std::string> words) {
    if (words.empty()) return "nothing";
    if (words.size() > most_listed) {
        return fmt::format("{} and {} more", fmt::join(words.first(most_listed), ", "),
                           words.size() - most_listed);
    }
    if (words.size() == 1) return words.front();
    return fmt::format("{} and {}", fmt::join(words.first(words.size() - 1), ", "), words.back());
}

std::string not_one_of(std::string_view found, std::string_view what,
                       std::span<const std::string> known) {
    const auto shown = known.first(std::min(known.size(), most_listed));
    auto sentence = fmt::format("{} is not {} (one of: {}{})", quoted(found), what,
                                fmt::join(shown, ", "), shown.size() < known.size() ? ", ..." : "");
    if (const auto close = nearest(found, known)) {
        return sentence + fmt::format("; did you mean {}?", quoted(*close));
    }
    return sentence + ".";
}

std::string capitalised(std::string sentence) {
    if (!sentence.empty() && sentence[0] >= 'a' && sentence[0] <= 'z') {
        sentence[0] = static_cast<char>(sentence[0] - 'a' + 'A');
    }
    return sentence;
}

std::string squeezed(std::string_view text) {
    std::string out;
    for (const char c : text) {
        if (!is_blank(c)) {
            out += c;
        } else if (!out.empty() && out.back() != ' ') {
            out += ' ';
        }
    }
    if (!out.empty() && out.back() == ' ') out.pop_back();
    return out;
}

}  // namespace cvrig
