#include "rig/checks/image_version.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "rig/expectations/expression.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/image/memory_use.hpp"

namespace cvrig {

namespace {

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
    return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '-' || c == '_' || c == '+';
}

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

std::string_view without_v(std::string_view version) {
    const bool has_v =
        version.size() > 1 && (version[0] == 'v' || version[0] == 'V') && is_digit(version[1]);
    return has_v ? version.substr(1) : version;
}

// Whether nothing in `beside`, which is read away from a version, makes that a part of a longer one.
// A sentence's full stop does not.
bool ends_before(std::string_view beside, bool reversed) {
    const auto at = [&](std::size_t i) { return beside[reversed ? beside.size() - 1 - i : i]; };
    if (beside.empty()) return true;
    if (at(0) == '.') return beside.size() == 1 || (!is_of_version(at(1)) && at(1) != '.');
    return !is_of_version(at(0));
}

bool begins_after(std::string_view before, std::string_view version) {
    const bool has_v = !before.empty() && (before.back() == 'v' || before.back() == 'V') &&
                       is_digit(version.front());
    return ends_before(before, true) ||
           (has_v && ends_before(before.substr(0, before.size() - 1), true));
}

}  // namespace

const text_pattern* version_pattern(const module_expectations& m) {
    const auto image = std::ranges::find(m.checks, "image", &check_expectation::name);
    return image == m.checks.end() ? nullptr : image->find<text_pattern>("version", {});
}

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

bool is_telling(std::string_view version) {
    return without_v(version).size() >= shortest_version;
}

bool is_same_version(std::string_view a, std::string_view b) {
    return without_v(a) == without_v(b);
}

bool has_version(const firmware_image& image, std::string_view version) {
    if (!is_telling(version)) return false;
    if (is_same_version(image.stated_version, version)) return true;
    const auto bare = without_v(version);
    for (const std::string_view text : texts_in(image, shortest_version)) {
        for (auto at = text.find(bare); at != std::string_view::npos; at = text.find(bare, at + 1))
            if (begins_after(text.substr(0, at), bare) &&
                ends_before(text.substr(at + bare.size()), false))
                return true;
    }
    return false;
}

version_match match_version(const firmware_image& image, const std::string& name,
                            const module_expectations& m, const std::string& says) {
    if (const auto* pattern = version_pattern(m)) {
        const auto found = version_in(image, pattern->text);
        if (found.text.empty()) return {{}, found.wrong};
        if (is_same_version(found.text, says)) return {};
        return {fmt::format("The module says that it runs version {}, and the image {} is version "
                            "{}; another build was flashed.",
                            says, name, found.text),
                {}};
    }
    if (!is_telling(says))
        return {{},
                fmt::format("Version {} is too short to be looked for in the image; demand a "
                            "'version' of the check 'image'.",
                            cvrig::quoted(says))};
    if (has_version(image, says)) return {};
    return {fmt::format("The module says that it runs version {}, which the image {} does not "
                        "carry; another build was flashed.",
                        says, name),
            {}};
}

}  // namespace cvrig
