#include <fmt/format.h>

#include "rig/report/html_parts.hpp"
#include "rig/report/phrases.hpp"

namespace cvrig::report {

namespace {

void add_step(markup& page, const preparation_step& s) {
    page.open("div", {{"class", "proof"}});
    page.leaf("h3", s.step);
    page.open("p");
    page.leaf("code", s.command);
    page.text(fmt::format(" ended well after {} (at most {}).",
                          show(s.took.value(), dimension::seconds, 3),
                          show(s.time_limit.value(), dimension::seconds)));
    page.close();
    if (!s.output.empty()) {
        page.open("details");
        page.leaf("summary",
                  s.left_out_bytes > 0
                      ? fmt::format("The end of what it said ({} before that)",
                                    show(static_cast<double>(s.left_out_bytes), dimension::bytes))
                      : "What it said");
        page.leaf("pre", s.output);
        page.close();
    }
    page.close();
}

}  // namespace

void add_preparation(markup& page, const run_result& run) {
    if (run.prepared.steps.empty()) return;
    page.open("section",
              {{"id", "preparation"}, {"class", "bench"}, {"aria-labelledby", "preparation-name"}});
    page.leaf("h2", {{"id", "preparation-name"}}, "Before the run");
    page.leaf("p",
              "How this build came to be, and into the module. Where one of these steps fails, "
              "nothing is judged.");
    for (const auto& s : run.prepared.steps) add_step(page, s);
    if (!run.prepared.facts.empty()) {
        page.open("ul");
        for (const auto& fact : run.prepared.facts) page.leaf("li", sentence(fact));
        page.close();
    }
    page.close();
}

}  // namespace cvrig::report
