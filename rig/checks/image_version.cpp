#include "rig/checks/image_version.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "rig/expectations/expression.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/image/memory_use.hpp"

namespace cvrig {

namespace {

constexpr std::size_t shortest_version = 3;
/// No version is longer, and a whole image of letters need not be matched.
constexpr std::size_t longest_text = 200;

/// What every text must begin with: the pattern up to its first special character.
std::string plain_beginning(const std::string& pattern) {
    auto plain = pattern.substr(0, pattern.find_first_of(R"(^$\.*+?()[]{}|)"));
    // A character that may be left out is no beginning.
    const auto next = plain.size() < pattern.size() ? pattern[plain.size()] : ' ';
    if (!plain.empty() && (next == '*' || next == '?' || next == '{')) plain.pop_back();
    return pattern.find('|') == std::string::npos ? plain : std::string{};
}

bool is_of_version(char c) {
    return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '.' || c == '-' || c == '_' ||
           c == '+';
}

}  // namespace

found_version version_in(const firmware_image& image, const std::string& pattern) {
    const auto e = expression::parse(pattern);
    if (!e) return {{}, fmt::format("{} is no regular expression.", cvrig::quoted(pattern))};
    auto texts = texts_in(image, shortest_version);
    if (!image.stated_version.empty()) texts.insert(texts.begin(), image.stated_version);
    const auto beginning = plain_beginning(pattern);
    std::string nearest;
    std::vector<std::string> found;
    for (const auto& text : texts) {
        if (text.size() > longest_text) continue;
        if (const auto captured = e->match(text)) {
            const auto version = captured->empty() ? text : captured->front();
            if (std::ranges::find(found, version) == found.end()) found.push_back(version);
        } else if (nearest.empty() && beginning.size() >= 2 && text.starts_with(beginning)) {
            nearest = text;
        }
    }
    if (found.size() == 1) return {found.front(), {}};
    if (found.size() > 1)
        return {{},
                fmt::format("The image carries {} versions, {} and {} among them.", found.size(),
                            cvrig::quoted(found[0]), cvrig::quoted(found[1]))};
    if (!nearest.empty())
        return {{},
                fmt::format("The image says {}, and {} is demanded.", cvrig::quoted(nearest),
                            cvrig::quoted(pattern))};
    return {{}, fmt::format("No text in the image matches {}.", cvrig::quoted(pattern))};
}

bool has_version(const firmware_image& image, std::string_view version) {
    if (version.empty()) return false;
    if (image.stated_version == version) return true;
    for (const auto& text : texts_in(image, shortest_version)) {
        for (auto at = text.find(version); at != std::string::npos;
             at = text.find(version, at + 1)) {
            const auto end = at + version.size();
            if ((at == 0 || !is_of_version(text[at - 1])) &&
                (end == text.size() || !is_of_version(text[end])))
                return true;
        }
    }
    return false;
}

}  // namespace cvrig
