#include "rig/service/page_files.hpp"

#include <array>
#include <utility>

#include "rig/report/embedded.hpp"

namespace cvrig::service {

namespace {

std::string_view type_of(std::string_view name) {
    constexpr std::array<std::pair<std::string_view, std::string_view>, 5> types{
        {{".html", "text/html; charset=utf-8"},
         {".js", "text/javascript; charset=utf-8"},
         {".css", "text/css; charset=utf-8"},
         {".svg", "image/svg+xml"},
         {".png", "image/png"}}};
    for (const auto& [ending, type] : types)
        if (name.ends_with(ending)) return type;
    return "application/octet-stream";
}

}  // namespace

std::optional<page_file> page_file_named(std::string_view name) {
    if (name == "dygraph.min.js") return page_file{type_of(name), report::plot_library_script()};
    if (name == "dygraph.min.css") return page_file{type_of(name), report::plot_library_style()};
    const auto found = built_in_page_file(name);
    if (!found) return std::nullopt;
    return page_file{type_of(name), found->bytes};
}

}  // namespace cvrig::service
