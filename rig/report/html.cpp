#include "rig/report/html.hpp"

#include <fmt/format.h>

#include "rig/report/embedded.hpp"
#include "rig/report/html_parts.hpp"
#include "rig/report/phrases.hpp"

namespace cvrig {

namespace {

using report::markup;

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

void add_head(markup& page, const run_result& run, const html_assets& assets) {
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
    page.leaf("title", fmt::format("{}: {}", in_words(run.outcome()), report::specimen(run)));
    add_style(page, assets.plot_style);
    add_style(page, assets.page_style);
    page.trusted("\n<noscript><style>.chart{display:none}</style></noscript>");
    page.close();
}

}  // namespace

html_assets built_in_assets() noexcept {
    return {report::plot_library_script(), report::plot_library_style(), report::page_style(),
            report::page_script(), report::plot_library_licence()};
}

std::string html_report(const run_result& run, const html_assets& assets) {
    const auto layout = report::laid_out(run);
    markup page;
    page.trusted("<!DOCTYPE html>");
    page.open("html", {{"lang", "en"}});
    add_head(page, run, assets);
    page.open("body");
    page.leaf("a", {{"class", "skip"}, {"href", "#content"}}, "Skip to the findings");
    report::add_summary(page, run, layout);  // opens <main>
    report::add_checks(page, run, layout);
    report::add_takes(page, run, layout);
    report::add_bench(page, run);
    report::add_rule(page, run);
    report::add_cautions(page);
    page.close();
    report::add_provenance(page, run, assets.plot_licence);
    add_script(page, assets.plot_script);
    add_script(page, assets.page_script);
    return page.take() + "\n";
}

}  // namespace cvrig
