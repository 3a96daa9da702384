#pragma once

#include <string>
#include <string_view>

#include "rig/report/html.hpp"
#include "rig/report/markup.hpp"

/// What every page of the rig begins and ends with.
namespace cvrig::report {

/// The head: title, styles, and a rule that nothing is ever fetched.
void add_page_head(markup& page, const std::string& title, const html_assets& assets);

/// The scripts that draw the plots, at the end of the body.
void add_page_scripts(markup& page, const html_assets& assets);

/// The plotting library's licence, which demands to be shown with it.
void add_plot_licence(markup& page, std::string_view licence);

}  // namespace cvrig::report
