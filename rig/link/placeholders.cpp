#include "rig/link/placeholders.hpp"

#include <algorithm>
#include <system_error>

namespace cvrig {

namespace {

namespace fs = std::filesystem;

bool is_letter(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

bool is_placeholder_name(std::string_view name) {
    return !name.empty() && is_letter(name[0]) && std::all_of(name.begin(), name.end(), [](char c) {
        return is_letter(c) || (c >= '0' && c <= '9') || c == ' ' || c == '_' || c == '-';
    });
}

}  // namespace

std::string with_placeholders(std::string_view text,
                              const std::function<std::string(const std::string&)>& value_of) {
    std::string out;
    while (!text.empty()) {
        const auto open = text.find('{');
        out += text.substr(0, open);
        if (open == std::string_view::npos) break;
        text.remove_prefix(open);
        const auto close = text.find('}');
        const auto name =
            close == std::string_view::npos ? std::string_view{} : text.substr(1, close - 1);
        const bool meant = is_placeholder_name(name);
        out += meant ? value_of(std::string{name}) : std::string{text[0]};
        text.remove_prefix(meant ? close + 1 : 1);
    }
    return out;
}

bool has_placeholder(std::string_view text) {
    bool found = false;
    static_cast<void>(with_placeholders(text, [&](const std::string&) {
        found = true;
        return std::string{};
    }));
    return found;
}

std::string beside_bench(const std::string& argument, bool is_program, const fs::path& bench_file) {
    const fs::path path{argument};
    const bool is_bare = argument.find('/') == std::string::npos;
    if (argument.empty() || path.is_absolute() || (is_program && is_bare)) return argument;
    auto candidate = bench_file;
    candidate.remove_filename();
    candidate /= path;
    std::error_code failed;
    if (!fs::is_regular_file(candidate, failed)) return argument;
    const auto full = fs::absolute(candidate, failed);
    return failed ? argument : full.lexically_normal().string();
}

}  // namespace cvrig
