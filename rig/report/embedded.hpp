#pragma once

#include <string_view>

/// Files that are built into the program, so that a report needs nothing beside it.
namespace cvrig::report {

[[nodiscard]] std::string_view plot_library_script() noexcept;
[[nodiscard]] std::string_view plot_library_style() noexcept;
[[nodiscard]] std::string_view plot_library_licence() noexcept;
[[nodiscard]] std::string_view page_style() noexcept;
[[nodiscard]] std::string_view page_script() noexcept;

}  // namespace cvrig::report
