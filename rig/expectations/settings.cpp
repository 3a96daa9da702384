#include "rig/expectations/settings.hpp"

#include <fmt/format.h>

namespace cvrig {

std::string in_words(const setting_choice& choice) {
    std::string all;
    for (const auto& [name, value] : choice) {
        if (!all.empty()) all += ", ";
        all += fmt::format("{} {}", name, value);
    }
    return all;
}

setting_choice throughout(std::span<const setting_choice> all) {
    std::optional<setting_choice> common;
    for (const auto& choice : all) {
        if (choice.empty()) continue;
        if (!common) common = choice;
        std::erase_if(*common, [&](const auto& one) {
            const auto found = choice.find(one.first);
            return found == choice.end() || found->second != one.second;
        });
    }
    return common.value_or(setting_choice{});
}

setting_choice without(setting_choice choice, const setting_choice& left_out) {
    std::erase_if(choice, [&](const auto& one) { return left_out.contains(one.first); });
    return choice;
}

}  // namespace cvrig
