#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace cvrig::service {

/// A file of the page, built into the program.
struct page_file {
    std::string_view type;  ///< for Content-Type
    std::string_view bytes;
};

/// The file of that name: index.html, what else lies in rig/service/page, and the plotting library
/// (dygraph.min.js, dygraph.min.css).
[[nodiscard]] std::optional<page_file> page_file_named(std::string_view name);

/// A file as it was built in.
struct built_in_file {
    std::string_view name, bytes;
};
/// All of rig/service/page; made by embed_page.cmake.
[[nodiscard]] std::optional<built_in_file> built_in_page_file(std::string_view name) noexcept;

}  // namespace cvrig::service
