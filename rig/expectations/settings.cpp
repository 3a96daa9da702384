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

}  // namespace cvrig
