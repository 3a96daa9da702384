#include "rig/report/html_head.hpp"

namespace cvrig::report {

namespace {

void add_style(markup& page, std::string_view style) {
    page.open("style");
    page.trusted(style);
    page.close();
}

void add_script(markup& page, std::string_view script) {
    page.open("script");
    page.trusted(script);
    page.close();
}

}  // namespace

void add_page_head(markup& page, const std::string& title, const html_assets& assets) {
    page.open("head");
    page.empty("meta", {{"charset", "utf-8"}});
    page.empty("meta", {{"name", "viewport"}, {"content", "width=device-width, initial-scale=1"}});
    page.empty("meta", {{"name", "color-scheme"}, {"content", "light dark"}});
    // Nothing may be fetched, whatever a module's text tries.
    page.empty("meta", {{"http-equiv", "Content-Security-Policy"},
                        {"content",
                         "default-src 'none'; style-src 'unsafe-inline'; script-src "
                         "'unsafe-inline'; img-src data:"}});
    page.empty("link", {{"rel", "icon"}, {"href", "data:,"}});
    page.leaf("title", title);
    add_style(page, assets.plot_style);
    add_style(page, assets.page_style);
    page.trusted("\n<noscript><style>.chart{display:none}</style></noscript>");
    page.close();
}

void add_page_scripts(markup& page, const html_assets& assets) {
    add_script(page, assets.plot_script);
    add_script(page, assets.page_script);
}

void add_plot_licence(markup& page, std::string_view licence) {
    page.open("details", {{"class", "licence"}});
    page.leaf("summary", "Licence of the plotting library");
    page.leaf("pre", licence);
    page.close();
}

}  // namespace cvrig::report
