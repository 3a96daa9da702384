#include "rig/report/junit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <pugixml.hpp>
#include <sstream>

#include "rig/report/phrases.hpp"
#include "rig/report/text.hpp"

namespace cvrig {

namespace {

using report::check_group;
using report::demand_row;
using report::one_line;

struct tallies {
    std::size_t tests{0}, failures{0}, errors{0}, skipped{0};

    void add(verdict v) {
        ++tests;
        failures += v == verdict::fail ? 1u : 0u;
        errors += v == verdict::unsure ? 1u : 0u;
        skipped += v == verdict::skipped ? 1u : 0u;
    }
};

void attribute(pugi::xml_node node, const char* name, const std::string& value) {
    node.append_attribute(name).set_value(one_line(value).c_str());
}

void attribute(pugi::xml_node node, const char* name, std::size_t value) {
    node.append_attribute(name).set_value(std::to_string(value).c_str());
}

void text(pugi::xml_node node, const std::string& content) {
    node.append_child(pugi::node_pcdata).set_value(report::printable(content).c_str());
}

/// Readers split class names at dots.
std::string without_dots(std::string name) {
    std::replace(name.begin(), name.end(), '.', '_');
    return name;
}

std::string account(const finding& f, double coverage_factor) {
    std::string all = "read:     " + report::reading_text(f, coverage_factor) + "\n";
    all += "demanded: " + report::demand_text(f) + "\n";
    for (const auto& line : report::explanation(f)) all += line + "\n";
    return all;
}

void add_result(pugi::xml_node testcase, const finding& f, double coverage_factor) {
    if (f.outcome == verdict::pass) return;
    const auto reason = f.reason.empty() ? "no reason was given" : f.reason;
    if (f.outcome == verdict::skipped) {
        text(testcase.append_child("skipped"), report::sentence(reason));
        return;
    }
    auto child = testcase.append_child(f.outcome == verdict::fail ? "failure" : "error");
    attribute(child, "type", std::string{in_words(f.outcome)});
    attribute(child, "message",
              fmt::format("{}; {}", report::reading_text(f, coverage_factor), reason));
    text(child, account(f, coverage_factor));
}

std::string class_name(const check_group& group, const demand_row& row,
                       const report::run_layout& layout) {
    return without_dots(group.check) + "." + without_dots(layout.label(row.where->choice));
}

void add_properties(pugi::xml_node suite, const run_result& run) {
    auto all = suite.append_child("properties");
    const auto add = [&](const char* name, const std::string& value) {
        if (value.empty()) return;
        auto one = all.append_child("property");
        attribute(one, "name", name);
        attribute(one, "value", value);
    };
    add("module", run.module);
    add("build", run.build_name);
    add("build sha256", run.build_sha256);
    add("build commit", run.build_commit);
    add("build version", run.build_version);
    add("unit", run.unit);
    add("bench", run.bench_name);
    add("link", run.link);
    add("rig version", run.rig_version);
    if (all.first_child().empty()) suite.remove_child(all);
}

/// What the takes of a check complained about.
std::string problems_of(const run_result& run, const std::string& check) {
    std::string all;
    for (const auto& t : run.takes) {
        if (std::find(t.checks.begin(), t.checks.end(), check) == t.checks.end()) continue;
        for (const auto& p : report::troubles_of(t))
            all += fmt::format("take {}: {}\n", t.number, p);
        if (!t.log.empty()) all += fmt::format("take {} log: {}\n", t.number, t.log);
    }
    return all;
}

/// A proof of the rig as a suite: what is not proven is an error, never a failure.
tallies add_proof(pugi::xml_node root, const check_result& proof, const run_result& run) {
    tallies count;
    auto suite = root.append_child("testsuite");
    for (const auto& f : proof.findings) {
        auto one = suite.append_child("testcase");
        attribute(one, "name",
                  f.measured && !f.measured->at.empty() ? f.name + ", " + f.measured->at : f.name);
        attribute(one, "classname", without_dots(proof.check));
        add_result(one, f, run.coverage_factor);
        count.add(f.outcome);
    }
    attribute(suite, "name", proof.check);
    attribute(suite, "tests", count.tests);
    attribute(suite, "failures", count.failures);
    attribute(suite, "errors", count.errors);
    attribute(suite, "skipped", count.skipped);
    return count;
}

/// The common schemas differ on time zones, so the Z of UTC is left out.
std::string without_zone(const std::string& when) {
    return when.ends_with('Z') ? when.substr(0, when.size() - 1) : when;
}

void add_cases(pugi::xml_node suite, const check_group& group, const report::run_layout& layout,
               const run_result& run, tallies& count) {
    for (const auto& demand : group.demands) {
        for (const auto& row : demand.rows) {
            auto one = suite.append_child("testcase");
            attribute(one, "name", report::title_of(demand));
            attribute(one, "classname", class_name(group, row, layout));
            add_result(one, *row.what, run.coverage_factor);
            count.add(row.what->outcome);
        }
    }
    for (const auto* result : group.results) {
        if (!result->findings.empty()) continue;
        auto one = suite.append_child("testcase");
        attribute(one, "name", "nothing was judged");
        attribute(one, "classname",
                  without_dots(group.check) + "." + without_dots(layout.label(result->choice)));
        text(one.append_child("skipped"), "the check came to no finding");
        count.add(verdict::skipped);
    }
}

tallies add_suite(pugi::xml_node root, const check_group& group, const report::run_layout& layout,
                  const run_result& run) {
    tallies count;
    auto suite = root.append_child("testsuite");
    add_properties(suite, run);
    add_cases(suite, group, layout, run, count);
    std::string causes;
    for (const auto& cause : report::causes_of(group, layout))
        causes += fmt::format("Likeliest cause, {}\n", cause);
    if (!causes.empty()) text(suite.append_child("system-out"), causes);
    if (const auto all = problems_of(run, group.check); !all.empty()) {
        text(suite.append_child("system-err"), all);
    }
    attribute(suite, "name", group.check);
    attribute(suite, "tests", count.tests);
    attribute(suite, "failures", count.failures);
    attribute(suite, "errors", count.errors);
    attribute(suite, "skipped", count.skipped);
    if (!run.started.empty()) attribute(suite, "timestamp", without_zone(run.started));
    return count;
}

}  // namespace

std::string junit_report(const run_result& run) {
    const auto layout = report::laid_out(run);
    pugi::xml_document document;
    auto declaration = document.append_child(pugi::node_declaration);
    declaration.append_attribute("version") = "1.0";
    declaration.append_attribute("encoding") = "UTF-8";
    auto root = document.append_child("testsuites");
    tallies total;
    const auto include = [&](const tallies& count) {
        total.tests += count.tests;
        total.failures += count.failures;
        total.errors += count.errors;
    };
    for (const auto& proof : run.bench.proofs) include(add_proof(root, proof, run));
    for (const auto& group : layout.checks) include(add_suite(root, group, layout, run));
    attribute(root, "name", report::specimen(run));
    attribute(root, "tests", total.tests);
    attribute(root, "failures", total.failures);
    attribute(root, "errors", total.errors);
    attribute(root, "time", fmt::format("{:.3f}", run.wall.value()));
    std::ostringstream out;
    document.save(out, "  ", pugi::format_indent, pugi::encoding_utf8);
    return out.str();
}

}  // namespace cvrig
