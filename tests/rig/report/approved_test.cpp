#include <catch2/catch.hpp>

#include <filesystem>
#include <fstream>
#include <sstream>

#include "../sample_result.hpp"
#include "rig/report/html.hpp"
#include "rig/report/json.hpp"
#include "rig/report/junit.hpp"
#include "rig/report/terminal.hpp"

using namespace cvrig;

namespace {

std::string bytes_of(const std::filesystem::path& file) {
    std::ifstream in{file, std::ios::binary};
    std::ostringstream all;
    all << in.rdbuf();
    return all.str();
}

/// What was received is kept beside the build, where scripts/approve-reports finds it.
void check_approved(const std::string& name, const std::string& received) {
    const std::filesystem::path folder{CVRIG_RECEIVED};
    std::filesystem::create_directories(folder);
    std::ofstream{folder / name, std::ios::binary} << received;
    const auto approved = std::filesystem::path{CVRIG_APPROVED} / name;
    INFO("received " << (folder / name).string() << ", approved " << approved.string()
                     << "; look at the difference, then run scripts/approve-reports");
    REQUIRE(std::filesystem::exists(approved));
    // Not CHECK(a == b): a report is too long to be printed twice.
    const bool same = bytes_of(approved) == received;
    CHECK(same);
}

}  // namespace

TEST_CASE("the terminal report is the approved one", "[report]") {
    check_approved("report.txt", terminal_table(testing::sample_result(), {false, 80, true}));
}

TEST_CASE("the HTML report is the approved one, but for what it carries from files", "[report]") {
    const html_assets assets{.plot_script = "/* plotting library */",
                             .plot_style = "/* its style */",
                             .page_style = "/* style of the page */",
                             .page_script = "/* script of the page */",
                             .plot_licence = "Its licence."};
    check_approved("report.html", html_report(testing::sample_result(), assets));
}

TEST_CASE("the HTML report carries every style, script and licence whole", "[report]") {
    const auto assets = built_in_assets();
    const auto page = html_report(testing::sample_result(), assets);
    for (const auto carried :
         {assets.plot_script, assets.plot_style, assets.page_style, assets.page_script}) {
        CHECK(carried.size() > 1000);
        CHECK(page.find(carried) != std::string::npos);
    }
    CHECK_THAT(page, Catch::Matchers::Contains("Permission is hereby granted"));
}

TEST_CASE("the JSON report is the approved one", "[report]") {
    check_approved("report.json", json_report(testing::sample_result()));
}

TEST_CASE("the JUnit XML report is the approved one", "[report]") {
    check_approved("report.xml", junit_report(testing::sample_result()));
}
