#pragma once

#include <span>
#include <string_view>

namespace cvrig::testing {

/// What a diagnosis should say of an injected fault.
struct cause_row {
    std::string_view fault;
    double size;
    std::string_view check;   ///< whose diagnosis counts
    std::string_view causes;  ///< with commas between them: any of these is right
};

[[nodiscard]] std::span<const cause_row> cause_rows() noexcept;

}  // namespace cvrig::testing
