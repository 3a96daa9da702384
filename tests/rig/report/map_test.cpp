#include <catch2/catch.hpp>

#include "rig/report/check_map.hpp"
#include "rig/report/map_columns.hpp"

using namespace cvrig;
using namespace cvrig::report;

namespace {

check_result judged(const std::string& check, const std::string& mode, const std::string& wave,
                    verdict v) {
    check_result out;
    out.check = check;
    out.choice = {{"mode", mode}, {"wave", wave}};
    finding f;
    f.name = "level";
    f.outcome = v;
    out.findings.push_back(f);
    return out;
}

/// Eight checks in two modes, one of them with two more waves.
run_result many_checks_few_settings() {
    run_result run;
    for (int i = 0; i < 8; ++i) {
        const std::string name = "check " + std::to_string(i);
        run.checks.push_back(judged(name, "tied", "saw", verdict::pass));
        run.checks.push_back(judged(name, "wide", "saw", verdict::pass));
    }
    run.checks.push_back(judged("check 3", "tied", "square", verdict::fail));
    run.checks.push_back(judged("check 3", "tied", "blend", verdict::unsure));
    return run;
}

}  // namespace

TEST_CASE("what few checks were asked in shares a column, and nothing else does", "[report]") {
    const auto run = many_checks_few_settings();
    const auto layout = laid_out(run);
    const auto columns = columns_of_map(layout);
    REQUIRE(columns.own.size() == 2);
    REQUIRE(columns.shared.size() == 2);
    CHECK(layout.label(columns.shared[0]) == "tied, square");
}

TEST_CASE("a single rare choice has a column of its own", "[report]") {
    auto run = many_checks_few_settings();
    run.checks.pop_back();
    const auto layout = laid_out(run);
    const auto columns = columns_of_map(layout);
    CHECK(columns.own.size() == 3);
    CHECK(columns.shared.empty());
}

TEST_CASE("the map names each rare choice beside its verdict, at any width", "[report]") {
    const auto run = many_checks_few_settings();
    const auto layout = laid_out(run);
    for (const int width : {40, 60, 80, 132}) {
        const auto map = check_map(layout, ink{{false, width, true}});
        INFO(map);
        CHECK(map.find("settings") != std::string::npos);
        CHECK(map.find("FAIL tied, square") != std::string::npos);
        CHECK(map.find("unsure tied, blend") != std::string::npos);
    }
}
