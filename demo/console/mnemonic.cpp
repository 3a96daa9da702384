#include "demo/console/mnemonic.hpp"

#include <algorithm>
#include <span>

namespace ferrule {
namespace {

char upper(char c) noexcept {
    return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
}

bool is_small(char c) noexcept {
    return c >= 'a' && c <= 'z';
}

bool same(std::string_view a, std::string_view b) noexcept {
    return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                      [](char x, char y) { return upper(x) == upper(y); });
}

struct node {
    std::string_view name;
    bool optional;
};

std::vector<node> nodes_of(std::string_view pattern) {
    std::vector<node> nodes;
    while (!pattern.empty()) {
        const bool optional = pattern.front() == '[';
        const auto begin = pattern.find_first_not_of("[:");
        const auto end = std::min(pattern.find_first_of("[]:", begin), pattern.size());
        nodes.push_back({pattern.substr(begin, end - begin), optional});
        const auto next = pattern.find_first_not_of("]:", end);
        pattern = next == std::string_view::npos ? "" : pattern.substr(next);
    }
    return nodes;
}

bool matches(std::span<const node> nodes, std::span<const std::string> path) {
    if (nodes.empty()) return path.empty();
    const node& first = nodes.front();
    if (!path.empty() && is_mnemonic(first.name, path.front()) &&
        matches(nodes.subspan(1), path.subspan(1))) {
        return true;
    }
    return first.optional && matches(nodes.subspan(1), path);
}

}  // namespace

bool is_mnemonic(std::string_view mnemonic, std::string_view word) noexcept {
    if (same(mnemonic, word)) return true;
    const auto cut = std::find_if(mnemonic.begin(), mnemonic.end(), is_small);
    return same(mnemonic.substr(0, static_cast<std::size_t>(cut - mnemonic.begin())), word);
}

std::string short_form(std::string_view mnemonic) {
    return {mnemonic.begin(), std::find_if(mnemonic.begin(), mnemonic.end(), is_small)};
}

bool is_header(std::string_view pattern, const std::vector<std::string>& path) {
    return matches(nodes_of(pattern), path);
}

std::vector<std::string> split_at_colons(std::string_view text) {
    std::vector<std::string> words;
    for (std::size_t begin = 0;;) {
        const auto end = text.find(':', begin);
        words.emplace_back(text.substr(begin, end - begin));
        if (end == std::string_view::npos) return words;
        begin = end + 1;
    }
}

}  // namespace ferrule
