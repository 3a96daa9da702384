#include "rig/evidence/member_name.hpp"

#include <algorithm>
#include <array>

namespace cvrig::evidence {

namespace {

constexpr std::string_view takes{"takes/"};

// As plain_name() makes them.
bool is_plain(std::string_view name) noexcept {
    constexpr std::size_t longest = 240;
    if (name.empty() || name.size() > longest || name.front() == '.') return false;
    return std::ranges::all_of(name, [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
               std::string_view{"-_=,."}.find(c) != std::string_view::npos;
    });
}

/// "-1.flac" and so on.
bool is_numbered_sound(std::string_view rest) noexcept {
    if (!rest.starts_with('-')) return false;
    rest.remove_prefix(1);
    const auto digits = std::min(rest.find_first_not_of("0123456789"), rest.size());
    constexpr std::size_t most_digits = 4;
    return digits > 0 && digits <= most_digits &&
           (rest.substr(digits) == ".flac" || rest.substr(digits) == ".wav");
}

bool is_take_file(std::string_view file) noexcept {
    if (file == "take.json") return true;
    for (const std::string_view kind : {"stimulus", "response"})
        if (file.starts_with(kind)) return is_numbered_sound(file.substr(kind.size()));
    return false;
}

std::string_view file_of(std::string_view member) noexcept {
    return member.substr(member.rfind('/') + 1);
}

}  // namespace

bool is_member_name(std::string_view name) noexcept {
    constexpr std::array single{member::report, member::expectations, member::bench, member::trim,
                                member::run,    member::facts,        member::image, member::log};
    if (std::ranges::find(single, name) != single.end()) return true;
    if (!name.starts_with(takes)) return false;
    name.remove_prefix(takes.size());
    const auto slash = name.find('/');
    return slash != std::string_view::npos && is_plain(name.substr(0, slash)) &&
           is_take_file(name.substr(slash + 1));
}

std::string_view take_of(std::string_view member) noexcept {
    if (!member.starts_with(takes)) return {};
    return member.substr(0, member.rfind('/'));
}

bool is_sound(std::string_view member) noexcept {
    return member.ends_with(".flac") || member.ends_with(".wav");
}

bool is_stimulus(std::string_view member) noexcept {
    return file_of(member).starts_with("stimulus-");
}

}  // namespace cvrig::evidence
