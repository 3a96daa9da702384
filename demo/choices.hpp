#pragma once

#include "demo/user_mistake.hpp"

#include <array>
#include <string>
#include <string_view>
#include <utility>

namespace ferrule {

/// Words and what they stand for.
template <typename Value, std::size_t Count>
using choices = std::array<std::pair<std::string_view, Value>, Count>;

/// The value of a word; a user_mistake that lists the words when there is no such one.
template <typename Value, std::size_t Count>
[[nodiscard]] Value choose(const choices<Value, Count>& from, std::string_view name,
                           std::string_view word) {
    std::string known;
    for (const auto& [candidate, meaning] : from) {
        if (candidate == word) return meaning;
        known += (known.empty() ? "" : ", ") + std::string{candidate};
    }
    throw user_mistake("There is no " + std::string{name} + " \"" + std::string{word} +
                       "\"; choose one of " + known + ".");
}

/// The word for a value that the table has.
template <typename Value, std::size_t Count>
[[nodiscard]] std::string_view word_for(const choices<Value, Count>& from, Value value) {
    for (const auto& [candidate, meaning] : from) {
        if (meaning == value) return candidate;
    }
    return {};
}

}  // namespace ferrule
