#include <fmt/format.h>

#include <array>

#include "rig/report/html_head.hpp"
#include "rig/report/html_parts.hpp"
#include "rig/report/phrases.hpp"

namespace cvrig::report {

namespace {

void add_take(markup& page, const take_summary& t, const run_layout& layout) {
    std::string checks;
    for (const auto& c : t.checks) checks += (checks.empty() ? "" : ", ") + c;
    page.open("tr");
    page.leaf("th", {{"scope", "row"}}, std::to_string(t.number));
    page.leaf("td", layout.label(t.choice));
    page.leaf("td", checks);
    page.leaf("td", {{"class", "number"}}, show(t.length.value(), dimension::seconds, 3));
    page.leaf("td", {{"class", "number"}}, std::to_string(t.attempt));
    page.open("td");
    const auto troubles = troubles_of(t);
    if (troubles.empty()) page.text("none");
    for (const auto& p : troubles) page.leaf("p", {{"class", "problem"}}, p);
    if (!t.log.empty()) {
        page.open("details");
        page.leaf("summary", "What the program said");
        page.leaf("pre", t.log);
        page.close();
    }
    page.close();
    page.close();
}

void add_source(markup& page, std::string_view term, const std::string& name,
                const std::string& hash) {
    if (name.empty() && hash.empty()) return;
    page.leaf("dt", term);
    page.open("dd");
    page.text(name);
    if (!hash.empty()) {
        page.text(" ");
        page.leaf("code", fmt::format("SHA-256 {}", hash));
    }
    page.close();
}

std::string image_in_words(const run_result& run) {
    auto words = run.build_name;
    if (!run.build_version.empty()) words += fmt::format(", version {}", run.build_version);
    if (run.build_size_bytes)
        words += ", " + show(static_cast<double>(*run.build_size_bytes), dimension::bytes);
    return words;
}

}  // namespace

void add_takes(markup& page, const run_result& run, const run_layout& layout) {
    if (run.takes.empty()) return;
    page.open("section", {{"id", "takes"}, {"aria-labelledby", "takes-name"}});
    page.leaf("h2", {{"id", "takes-name"}}, "Takes");
    page.open("div", {{"class", "scroll"}, {"tabindex", "0"}});
    page.open("table", {{"class", "takes"}});
    page.leaf("caption", "Every uninterrupted play-and-record of this run");
    page.open("thead");
    page.open("tr");
    for (const auto* name : {"Take", "Settings", "For", "Length", "Attempt", "Problems"}) {
        page.leaf("th", {{"scope", "col"}}, name);
    }
    page.close();
    page.close();
    page.open("tbody");
    for (const auto& t : run.takes) add_take(page, t, layout);
    page.close();
    page.close();
    page.close();
    page.close();
}

void add_rule(markup& page, const run_result& run) {
    page.open("section", {{"id", "rule"}, {"aria-labelledby", "rule-name"}});
    page.leaf("h2", {{"id", "rule-name"}}, "How sure is a verdict");
    page.leaf("p", fmt::format("Each reading carries an expanded uncertainty U, {} times its "
                               "standard uncertainty; after JCGM "
                               "106:2012 a guard band of U lies on both sides of each limit, and a "
                               "reading passes only inside "
                               "it, fails only beyond it, and is unsure within it.",
                               show(run.coverage_factor, dimension::ratio, 3)));
    page.leaf(
        "p",
        "In the drawings the bar is what is allowed, its shaded ends are the guard bands, the tick "
        "is the reading and the whisker its U; an arrow means that the reading lies far outside. "
        "For an answer the bar is the odds of the expected one, with a mark at even odds.");
    page.close();
}

void add_cautions(markup& page) {
    static constexpr std::array cautions{
        "CV outputs carry DC. At a loudspeaker, headphone or amplifier input DC burns coils and "
        "hurts "
        "ears: disconnect monitoring from them.",
        "Power the case down before you connect a ribbon cable, and check its polarity.",
        "A balanced output that feeds a mono plug has its cold leg shorted: know whether it bears "
        "that.",
        "A module's 10 V peak-to-peak overloads a line input: start attenuated.",
        "Mains-powered equipment is opened only by licensed people, under the local rules.",
    };
    page.open("section",
              {{"id", "cautions"}, {"class", "cautions"}, {"aria-labelledby", "cautions-name"}});
    page.leaf("h2", {{"id", "cautions-name"}}, "Cautions at the bench");
    page.open("ul");
    for (const auto* c : cautions) page.leaf("li", c);
    page.close();
    page.close();
}

void add_provenance(markup& page, const run_result& run, std::string_view plot_licence) {
    page.open("footer", {{"id", "provenance"}});
    page.leaf("h2", "Where this came from");
    page.open("dl");
    add_source(page, "Expectations", run.expectations_file, run.expectations_sha256);
    add_source(page, "Bench", run.bench_file, run.bench_sha256);
    add_source(page, "Image", image_in_words(run), run.build_sha256);
    add_source(page, "Commit", run.build_commit, "");
    add_source(page, "Rig",
               run.rig_version.empty() ? std::string{} : fmt::format("cvrig {}", run.rig_version),
               "");
    add_source(page, "Time",
               fmt::format("{} in all, {} of it CPU time of the analysis",
                           show(run.wall.value(), dimension::seconds, 3),
                           show(run.analysis_cpu.value(), dimension::seconds, 3)),
               "");
    add_source(page, "Plots", "drawn by dygraphs, MIT licence", "");
    page.close();
    add_plot_licence(page, plot_licence);
    page.close();
}

}  // namespace cvrig::report
