#pragma once

#include <string>
#include <string_view>

#include "rig/run/result.hpp"

namespace cvrig {

/// What a page carries inside: style and script text that is trusted and written as it is.
struct html_assets {
    std::string_view plot_script;  ///< the plotting library
    std::string_view plot_style;
    std::string_view page_style;
    std::string_view page_script;
    std::string_view plot_licence;  ///< of the plotting library, which demands to be shown with it
};

/// The assets that are built into the program.
[[nodiscard]] html_assets built_in_assets() noexcept;

/// The run as one self-contained page: works from disk, offline, on paper, in light and dark, on a
/// phone, and without scripts (then the plots are tables). Text of a run is escaped, never trusted.
[[nodiscard]] std::string html_report(const run_result& run, const html_assets& assets);

}  // namespace cvrig
