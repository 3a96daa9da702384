#include "rig/evidence/scrub.hpp"

#include <algorithm>
#include <optional>
#include <utility>

#include "rig/evidence/path_words.hpp"

namespace cvrig::evidence {

namespace {

constexpr auto npos = std::string_view::npos;
constexpr std::size_t shortest_name = 2;

char lower(char c) noexcept {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
}

bool is_word_sign(char c) noexcept {
    const char l = lower(c);
    return (l >= 'a' && l <= 'z') || (c >= '0' && c <= '9') || static_cast<unsigned char>(c) > 0x7F;
}

bool gives_away(std::string_view name) noexcept {
    return name.size() >= shortest_name && name != "root" && name != "localhost" && name != "user";
}

std::size_t find_word(std::string_view text, std::string_view word, std::size_t from) noexcept {
    while (true) {
        const auto found =
            std::search(text.begin() + static_cast<std::ptrdiff_t>(from), text.end(), word.begin(),
                        word.end(), [](char a, char b) { return lower(a) == lower(b); });
        if (found == text.end()) return npos;
        const auto at = static_cast<std::size_t>(found - text.begin());
        const auto end = at + word.size();
        if ((at == 0 || !is_word_sign(text[at - 1])) &&
            (end == text.size() || !is_word_sign(text[end])))
            return at;
        from = at + 1;
    }
}

std::size_t replace_words(std::string& text, const std::vector<std::string>& words,
                          std::string_view by) {
    auto longest_first = words;
    std::ranges::stable_sort(longest_first, std::ranges::greater{}, &std::string::size);
    std::size_t count = 0;
    for (const auto& word : longest_first) {
        if (!gives_away(word)) continue;
        for (auto at = find_word(text, word, 0); at != npos;
             at = find_word(text, word, at + by.size())) {
            text.replace(at, word.size(), by);
            ++count;
        }
    }
    return count;
}

/// Where a path that begins at `begin` may end at the latest: folders may have blanks in their names.
std::size_t end_of_path(std::string_view line, std::size_t begin) noexcept {
    const char before = begin > 0 ? line[begin - 1] : ' ';
    if (before != '"' && before != '\'' && before != '`') return line.size();
    const auto closing = line.rfind(before);
    return closing == npos || closing < begin ? line.size() : closing;
}

std::size_t replace_paths(std::string& line) {
    constexpr std::string_view by{"<path>"};
    std::size_t count = 0;
    for (auto at = find_path(line, 0); at != npos; at = find_path(line, at + by.size())) {
        line.replace(at, end_of_path(line, at) - at, by);
        ++count;
    }
    return count;
}

/// Replaces each word for which `is_one` holds; it is asked with the word before.
template <typename Test>
std::size_t replace_each(std::string& line, std::string_view by, Test is_one) {
    constexpr std::string_view ends{" \t\"'`<>()[]{},;|=/"};
    std::size_t count = 0;
    std::string before;
    for (std::size_t from = 0;;) {
        const auto begin = line.find_first_not_of(ends, from);
        if (begin == std::string::npos) return count;
        const auto end = std::min(line.find_first_of(ends, begin), line.size());
        from = end;
        const std::string word{line, begin, end - begin};
        const bool is_found = is_one(word, before);
        before = word;
        if (!is_found) continue;
        // A sentence keeps its end.
        const bool has_end = word.back() == '.' || word.back() == ':';
        line.replace(begin, word.size() - (has_end ? 1 : 0), by);
        from = begin + by.size() + (has_end ? 1 : 0);
        ++count;
    }
}

/// A known folder and what stood beneath it are one path.
void join_paths(std::string& line, scrub_count& count) {
    constexpr std::string_view twice{"<path><path>"};
    for (auto at = line.find(twice); at != std::string::npos; at = line.find(twice)) {
        line.erase(at, twice.size() / 2);
        --count.paths;
    }
}

scrub_count scrub_line(std::string& line, const private_names& names) {
    scrub_count count;
    count.paths = replace_words(line, names.folders, "<path>");
    count.paths += replace_paths(line);
    join_paths(line, count);
    count.ports = replace_words(line, names.ports, "<port>");
    count.ports += replace_each(
        line, "<port>", [](const auto& word, const auto& /*before*/) { return is_port(word); });
    count.addresses = replace_each(line, "<address>", [](const auto& word, const auto& before) {
        return is_address(word) || is_host_with_port(word, before);
    });
    count.addresses += replace_words(line, names.hosts, "<host>");
    count.people = replace_words(line, names.people, "<user>");
    return count;
}

}  // namespace

scrub_count& scrub_count::operator+=(const scrub_count& more) noexcept {
    paths += more.paths;
    ports += more.ports;
    addresses += more.addresses;
    people += more.people;
    return *this;
}

scrubbed_text scrubbed(std::string_view text, const private_names& names) {
    scrubbed_text out;
    while (true) {
        const auto end = std::min(text.find('\n'), text.size());
        std::string line{text.substr(0, end)};
        out.replaced += scrub_line(line, names);
        out.text += line;
        if (end == text.size()) return out;
        out.text += '\n';
        text.remove_prefix(end + 1);
    }
}

}  // namespace cvrig::evidence
