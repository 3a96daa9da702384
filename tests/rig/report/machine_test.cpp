#include <fmt/format.h>
#include <algorithm>
#include <catch2/catch.hpp>

#include <cstdlib>
#include <limits>
#include <nlohmann/json.hpp>
#include <pugixml.hpp>

#include "../sample_result.hpp"
#include "rig/platform/files.hpp"
#include "rig/report/json.hpp"
#include "rig/report/junit.hpp"
#include "schema_check.hpp"

using namespace cvrig;
using Catch::Matchers::WithinAbs;
using nlohmann::json;

namespace {

run_result one_finding(verdict v) {
    run_result run;
    check_result c;
    c.check = std::string{"level"};
    finding f;
    f.name = std::string{"peak"};
    f.outcome = v;
    f.reason = std::string{"because"};
    c.findings.push_back(f);
    run.checks.push_back(c);
    return run;
}

}  // namespace

TEST_CASE("the JSON report follows its published schema", "[report]") {
    CHECK(testing::schema_complaints(json::parse(json_report(testing::sample_result()))).empty());
    CHECK(testing::schema_complaints(json::parse(json_report(run_result{}))).empty());
}

TEST_CASE("the schema refuses a report with a foreign key or a wrong verdict", "[report]") {
    auto document = json::parse(json_report(testing::sample_result()));
    document["verdict"] = "perhaps";
    CHECK_FALSE(testing::schema_complaints(document).empty());
    document["verdict"] = "fail";
    REQUIRE(testing::schema_complaints(document).empty());
    document["checks"][0]["colour"] = "red";
    CHECK_FALSE(testing::schema_complaints(document).empty());
}

TEST_CASE("numbers reach the JSON report in base units, infinities as null", "[report]") {
    auto run = one_finding(verdict::pass);
    auto& f = run.checks[0].findings[0];
    f.measured = reading{0.0224, dimension::seconds, 0.0001, {}, ""};
    f.measured->standard_uncertainty = std::numeric_limits<double>::infinity();
    const auto read = json::parse(json_report(run))["checks"][0]["findings"][0]["reading"];
    CHECK(read["unit"] == "s");
    CHECK_THAT(read["value"].get<double>(), WithinAbs(0.0224, 0.0));  // printed to the last bit
    CHECK(read["standard_uncertainty"].is_null());
}

TEST_CASE("the JUnit report satisfies the Jenkins schema junit-4", "[report]") {
    // Source: junit-4.xsd of the Jenkins project (Thales, 2010), judged by libxml2.
    const temporary_folder folder;
    for (const auto& run : {testing::sample_result(), run_result{}}) {
        const auto file = folder.path() / "report.xml";
        write_file_atomically(file, junit_report(run), durability::unsynced);
        INFO(junit_report(run).substr(0, 400));
        const auto command = fmt::format("xmllint --noout --schema '{}' '{}' 2>/dev/null",
                                         CVRIG_JUNIT_SCHEMA, file.string());
        CHECK(std::system(command.c_str()) == 0);
    }
}

TEST_CASE("each verdict has its own JUnit element", "[report]") {
    const auto [v, element] = GENERATE(table<verdict, std::string>(
        {{verdict::fail, "failure"}, {verdict::unsure, "error"}, {verdict::skipped, "skipped"}}));
    pugi::xml_document document;
    REQUIRE(document.load_string(junit_report(one_finding(v)).c_str()));
    const auto testcase = document.child("testsuites").child("testsuite").child("testcase");
    CHECK(std::string{testcase.first_child().name()} == element);
    CHECK(std::string{testcase.first_child().child_value()}.find("Because") != std::string::npos);
}

TEST_CASE("JUnit counters agree with the test cases", "[report]") {
    pugi::xml_document document;
    REQUIRE(document.load_string(junit_report(testing::sample_result()).c_str()));
    const auto root = document.child("testsuites");
    std::size_t tests = 0;
    for (const auto suite : root.children("testsuite")) {
        std::size_t cases = 0, failures = 0;
        for (const auto one : suite.children("testcase")) {
            ++cases;
            failures += one.child("failure").empty() ? 0u : 1u;
        }
        CHECK(suite.attribute("tests").as_ullong() == cases);
        CHECK(suite.attribute("failures").as_ullong() == failures);
        tests += cases;
    }
    CHECK(root.attribute("tests").as_ullong() == tests);
    CHECK(root.attribute("failures").as_ullong() == testing::sample_result().count(verdict::fail));
    const auto run = testing::sample_result();
    std::size_t unproven = 0;
    for (const auto& proof : run.bench.proofs)
        unproven += static_cast<std::size_t>(
            std::ranges::count(proof.findings, verdict::unsure, &finding::outcome));
    CHECK(root.attribute("errors").as_ullong() == run.count(verdict::unsure) + unproven);
}
