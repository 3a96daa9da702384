#include "rig/run/plain_name.hpp"

#include "rig/platform/files.hpp"

namespace cvrig {

namespace {

bool may_stay(char c) {
    const bool is_letter = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
    return is_letter || (c >= '0' && c <= '9') || c == '-' || c == '=' || c == ',' || c == '.';
}

}  // namespace

std::string plain_name(std::string_view text) {
    constexpr std::size_t hash_digits = 8;
    std::string name;
    bool hides = false;
    for (const char c : text) {
        hides = hides || (c != ' ' && !may_stay(c));
        name += may_stay(c) ? c : c == ' ' ? '_' : '-';
    }
    if (hides) name.append(1, '-').append(sha256_of(text), 0, hash_digits);
    return name;
}

}  // namespace cvrig
