#include "rig/expectations/user_error.hpp"

#include <utility>

namespace cvrig {
namespace {

std::string joined(const std::vector<complaint>& complaints) {
    std::string text;
    for (const auto& c : complaints) {
        if (!text.empty()) text += '\n';
        text += c.text();
    }
    return text;
}

}  // namespace

std::string complaint::text() const {
    const auto prefix = where.text();
    return prefix.empty() ? sentence : prefix + ": " + sentence;
}

user_error::user_error(std::vector<complaint> complaints)
    : std::runtime_error{joined(complaints)}, complaints_{std::move(complaints)} {}

user_error::user_error(std::string sentence)
    : user_error{std::vector<complaint>{{place{}, std::move(sentence)}}} {}

}  // namespace cvrig
