#include <fmt/format.h>

#include "rig/report/html_parts.hpp"
#include "rig/report/phrases.hpp"

namespace cvrig::report {

namespace {

std::string_view headline_word(verdict v) {
    switch (v) {
        case verdict::pass:
            return "Pass";
        case verdict::fail:
            return "Fail";
        case verdict::unsure:
            return "Unsure";
        case verdict::skipped:
            return "Skipped";
    }
    return "Fail";
}

void add_fact(markup& page, std::string_view term, const std::string& fact) {
    if (fact.empty()) return;
    page.open("div");
    page.leaf("dt", term);
    page.leaf("dd", fact);
    page.close();
}

void add_facts(markup& page, const run_result& run, const run_layout& layout) {
    page.open("dl", {{"class", "facts"}});
    add_fact(page, "Module", run.module);
    add_fact(page, "Build", run.build_name);
    add_fact(page, "Commit", run.build_commit);
    add_fact(page, "Unit", run.unit);
    add_fact(page, "Bench", run.bench_name);
    add_fact(page, "Link", run.link);
    add_fact(page, "Started", run.started);
    add_fact(page, "Sounded",
             fmt::format("{} in {}", show(run.sound.value(), dimension::seconds, 3),
                         counted(run.takes.size(), "take", "takes")));
    add_fact(page, "Throughout", in_words(layout.fixed));
    page.close();
}

void add_next(markup& page, const run_result& run) {
    page.leaf("h2", "What to do next");
    page.open("ol", {{"class", "next"}});
    for (const auto& step : next_steps(run)) page.leaf("li", step);
    page.close();
}

}  // namespace

void add_summary(markup& page, const run_result& run, const run_layout& layout) {
    const auto v = run.outcome();
    page.open("header", {{"class", fmt::format("top v-{}", in_words(v))}});
    page.leaf("p", {{"class", "kind"}}, "Bench report");
    page.open("h1");
    page.leaf("span", {{"class", "headline"}}, headline_word(v));
    page.text(" ");
    page.leaf("span", {{"class", "specimen"}}, specimen(run));
    page.close();
    page.leaf("p", {{"class", "tally"}}, tally(run));
    add_facts(page, run, layout);
    page.close();
    page.open("main", {{"id", "content"}});
    page.open("section", {{"class", "summary"}, {"aria-label", "Summary"}});
    add_next(page, run);
    add_failures(page, run, layout);
    page.close();
    if (!layout.checks.empty()) add_map(page, layout);
}

}  // namespace cvrig::report
