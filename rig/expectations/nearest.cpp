#include "rig/expectations/nearest.hpp"

#include <algorithm>
#include <utility>
#include <vector>

namespace cvrig {

namespace {

constexpr std::size_t longest_word = 64;

std::string lower_case(std::string_view text) {
    std::string out{text};
    for (char& c : out) {
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    }
    return out;
}

/// The only word that begins with `start`.
std::optional<std::string> completed(std::string_view start, std::span<const std::string> known) {
    std::optional<std::string> found;
    for (const auto& word : known) {
        if (!lower_case(word).starts_with(start)) continue;
        if (found) return std::nullopt;
        found = word;
    }
    return found;
}

}  // namespace

std::size_t slips(std::string_view a, std::string_view b) {
    std::vector<std::size_t> two_back(b.size() + 1);
    std::vector<std::size_t> last(b.size() + 1);
    std::vector<std::size_t> now(b.size() + 1);
    for (std::size_t j = 0; j <= b.size(); ++j) last[j] = j;
    for (std::size_t i = 1; i <= a.size(); ++i) {
        now[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const std::size_t change = a[i - 1] == b[j - 1] ? 0 : 1;
            now[j] = std::min({last[j] + 1, now[j - 1] + 1, last[j - 1] + change});
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) {
                now[j] = std::min(now[j], two_back[j - 2] + 1);
            }
        }
        std::swap(two_back, last);
        std::swap(last, now);
    }
    return last[b.size()];
}

std::optional<std::string> nearest(std::string_view text, std::span<const std::string> known) {
    if (text.empty() || text.size() > longest_word) return std::nullopt;
    const auto wanted = lower_case(text);
    std::optional<std::string> best;
    std::size_t fewest = std::max<std::size_t>(1, text.size() / 3) + 1;
    for (const auto& word : known) {
        if (word.size() > longest_word) continue;
        const auto n = slips(wanted, lower_case(word));
        if (n < fewest && n < word.size()) {
            fewest = n;
            best = word;
        }
    }
    return best ? best : completed(wanted, known);
}

}  // namespace cvrig
