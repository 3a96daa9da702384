#pragma once

#include <span>
#include <string_view>

#include "rig/expectations/dimension.hpp"

namespace cvrig {

/// A unit that files may use: one of it is `base_units` of the dimension's base unit, plus
/// `offset` (only a level that refers to another voltage has one).
struct unit_entry {
    std::string_view name;
    dimension of;
    double base_units;
    double offset{0.0};
};

/// Every unit that is known.
[[nodiscard]] std::span<const unit_entry> known_units() noexcept;

/// The unit with this name, null if unknown. No name at all is a plain number.
[[nodiscard]] const unit_entry* find_unit(std::string_view name) noexcept;

}  // namespace cvrig
