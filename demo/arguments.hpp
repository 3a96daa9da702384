#pragma once

#include "demo/render.hpp"

#include <cstdint>
#include <filesystem>
#include <span>
#include <string>

namespace ferrule {

/// What the name=value arguments of a command ask for.
struct arguments {
    settings set;
    wiring wires;
    std::uint32_t unit = 1;
    std::uint64_t seed = 1;
    std::filesystem::path state;
    std::filesystem::path image;
};

/// Reads name=value arguments; throws user_mistake at an unknown name or an impossible value.
[[nodiscard]] arguments parse_arguments(std::span<const std::string> words);

/// The module that these arguments describe.
[[nodiscard]] module_plan plan_of(const arguments& asked, double rate_hertz);

}  // namespace ferrule
