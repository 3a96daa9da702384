#include <fmt/format.h>

#include "rig/report/finding_mark.hpp"
#include "rig/report/html_parts.hpp"
#include "rig/report/phrases.hpp"

namespace cvrig::report {

namespace {

void add_head(markup& page) {
    page.open("thead");
    page.open("tr");
    for (const auto* name : {"Proof", "Reading ± U", "Limit", "In its limits", "Verdict"})
        page.leaf("th", {{"scope", "col"}}, name);
    page.close();
    page.close();
}

std::string name_of(const finding& f) {
    if (!f.measured || f.measured->at.empty()) return f.name;
    return fmt::format("{}, {}", f.name, f.measured->at);
}

void add_row(markup& page, const finding& f, double coverage_factor) {
    page.open("tr");
    page.leaf("th", {{"scope", "row"}}, name_of(f));
    page.open("td", {{"class", "number"}});
    page.text(f.measured || f.answered ? reading_text(f, coverage_factor) : "");
    if (f.outcome != verdict::pass && !f.reason.empty()) {
        page.open("ul", {{"class", "why"}});
        page.leaf("li", sentence(f.reason));
        page.close();
    }
    page.close();
    page.leaf("td", {{"class", "demanded"}}, f.allowed || f.expected ? demand_text(f) : "");
    page.open("td", {{"class", "drawn"}});
    add_mark(page, f, coverage_factor);
    page.close();
    page.open("td", {{"class", "verdict"}});
    add_verdict(page, f.outcome);
    page.close();
    page.close();
}

void add_proof(markup& page, const check_result& proof, double coverage_factor) {
    page.open("div", {{"class", "proof"}});
    page.open("h3");
    page.text(proof.check);
    page.text(" ");
    add_verdict(page, proof.outcome());
    page.close();
    page.leaf("p", {{"class", "reads"}}, proof.reads);
    page.open("table", {{"class", "findings proofs"}});
    page.leaf("caption", fmt::format("What {} proved", proof.check));
    add_head(page);
    page.open("tbody");
    for (const auto& f : proof.findings) add_row(page, f, coverage_factor);
    page.close();
    page.close();
    page.close();
}

void add_list(markup& page, std::string_view heading, const std::vector<std::string>& lines) {
    if (lines.empty()) return;
    page.leaf("h3", heading);
    page.open("ul");
    for (const auto& line : lines) page.leaf("li", sentence(line));
    page.close();
}

}  // namespace

void add_bench(markup& page, const run_result& run) {
    if (run.bench.is_empty()) return;
    page.open("section", {{"id", "bench"}, {"class", "bench"}, {"aria-labelledby", "bench-name"}});
    page.open("h2", {{"id", "bench-name"}});
    page.text("The bench ");
    add_verdict(page, run.bench.outcome());
    page.close();
    page.leaf("p",
              "What the rig proved of itself before it judged the module. A fault here is one of "
              "the bench and says nothing about the firmware.");
    for (const auto& proof : run.bench.proofs) add_proof(page, proof, run.coverage_factor);
    add_list(page, "Facts", run.bench.facts);
    add_list(page, "What this bench cannot exclude", run.bench.cannot_exclude);
    if (!run.bench.wiring_picture.empty()) {
        page.leaf("h3", "How it is patched");
        page.open("figure", {{"class", "wiring"}});
        page.trusted(run.bench.wiring_picture);
        page.close();
    }
    page.close();
}

}  // namespace cvrig::report
