#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <pugixml.hpp>

#include "rig/report/html.hpp"
#include "rig/report/json.hpp"
#include "rig/report/junit.hpp"
#include "rig/report/terminal.hpp"
#include "schema_check.hpp"

using namespace cvrig;
using Catch::Matchers::Contains;

namespace {

const std::string reason =
    "This needs a hand and the run is unattended: Set the upper switch to saw.";
const std::string reset = "The module restarted by itself.";

/// A run of which one take was skipped and one passed.
run_result half_skipped() {
    run_result run;
    run.module = "Ferrule";
    for (const auto v : {verdict::pass, verdict::skipped}) {
        check_result c;
        c.check = "level";
        c.choice["mode"] = v == verdict::pass ? "tied" : "wide";
        finding f;
        f.check = c.check;
        f.choice = c.choice;
        f.name = "peak";
        f.outcome = v;
        if (v == verdict::skipped) f.reason = reason;
        c.findings.push_back(f);
        run.checks.push_back(c);
        take_summary t;
        t.number = static_cast<int>(run.takes.size()) + 1;
        t.choice = c.choice;
        t.checks = {"level"};
        if (v == verdict::skipped) t.skipped = reason;
        run.takes.push_back(t);
    }
    return run;
}

std::string on_one_line(std::string text) {
    std::string out;
    for (const char c : text)
        if (c != '\n' && (c != ' ' || out.empty() || out.back() != ' ')) {
            out += c;
        } else if (!out.empty() && out.back() != ' ') {
            out += ' ';
        }
    return out;
}

}  // namespace

TEST_CASE("a skipped demand is shown with its reason in every report", "[report][skipped]") {
    const auto run = half_skipped();
    CHECK(run.outcome() == verdict::skipped);
    CHECK_THAT(on_one_line(terminal_table(run, {.colour = false, .width = 100, .utf8 = true})),
               Contains(reason) && Contains("Not played: " + reason));
    CHECK_THAT(html_report(run, {}), Contains(reason) && Contains("Not played: " + reason));
    const auto json = nlohmann::json::parse(json_report(run));
    CHECK(testing::schema_complaints(json).empty());
    CHECK(json.at("checks").at(1).at("findings").at(0).at("reason") == reason);
    CHECK(json.at("takes").at(1).at("skipped") == reason);
    CHECK_FALSE(json.at("takes").at(0).contains("skipped"));
    pugi::xml_document junit;
    REQUIRE(junit.load_string(junit_report(run).c_str()));
    CHECK(junit.select_node("//testcase/skipped").node().text().get() == reason);
}

TEST_CASE("what the module did in a take is shown with the take", "[report][console]") {
    auto run = half_skipped();
    run.takes.front().module_faults = {reset};
    const auto json = nlohmann::json::parse(json_report(run));
    CHECK(testing::schema_complaints(json).empty());
    CHECK(json.at("takes").at(0).at("module_faults").at(0) == reset);
    CHECK_THAT(terminal_table(run, {.colour = false, .width = 100, .utf8 = true}), Contains(reset));
    CHECK_THAT(html_report(run, {}), Contains(reset));
    CHECK_THAT(junit_report(run), Contains("take 1: " + reset));
}
