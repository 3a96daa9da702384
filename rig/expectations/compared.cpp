#include "rig/expectations/compared.hpp"

#include <algorithm>

namespace cvrig {

std::vector<std::string> varied_settings(const check_expectation& check) {
    std::vector<std::string> out;
    if (check.in.empty()) return out;
    for (const auto& first : check.in.front()) {
        const bool varies = std::ranges::any_of(check.in, [&](const setting_choice& choice) {
            const auto found = choice.find(first.first);
            return found != choice.end() && found->second != first.second;
        });
        if (varies) out.push_back(first.first);
    }
    return out;
}

std::string compared_setting(const check_expectation& check, const std::string& key) {
    if (check.in.empty()) return {};
    if (const auto* named = check.find<setting_name>(key, check.in.front())) return named->text;
    const auto varied = varied_settings(check);
    return varied.size() == 1 ? varied.front() : std::string{};
}

}  // namespace cvrig
