#include "rig/report/html.hpp"

#include <fmt/format.h>

#include "rig/report/embedded.hpp"
#include "rig/report/html_head.hpp"
#include "rig/report/html_parts.hpp"
#include "rig/report/phrases.hpp"

namespace cvrig {

using report::markup;

html_assets built_in_assets() noexcept {
    return {report::plot_library_script(), report::plot_library_style(), report::page_style(),
            report::page_script(), report::plot_library_licence()};
}

std::string html_report(const run_result& run, const html_assets& assets) {
    const auto layout = report::laid_out(run);
    markup page;
    page.trusted("<!DOCTYPE html>");
    page.open("html", {{"lang", "en"}});
    report::add_page_head(
        page, fmt::format("{}: {}", in_words(run.outcome()), report::specimen(run)), assets);
    page.open("body");
    page.leaf("a", {{"class", "skip"}, {"href", "#content"}}, "Skip to the findings");
    report::add_summary(page, run, layout);  // opens <main>
    report::add_checks(page, run, layout);
    report::add_takes(page, run, layout);
    report::add_preparation(page, run);
    report::add_bench(page, run);
    report::add_rule(page, run);
    report::add_cautions(page);
    page.close();
    report::add_provenance(page, run, assets.plot_licence);
    report::add_page_scripts(page, assets);
    return page.take() + "\n";
}

}  // namespace cvrig
