#include <catch2/catch.hpp>
#include <cmath>
#include <map>

#include "live_judging.hpp"

using namespace cvrig::test_support;
using nlohmann::json;

namespace {

struct value_and_u {
    double value, expanded;
    std::string verdict;
};

// Every reading of a report by check, settings, name and place.
std::map<std::string, value_and_u> readings_of(const json& report) {
    std::map<std::string, value_and_u> all;
    for (const auto& check : report.at("checks")) {
        // How fast a console answers and how busy its processor is are two machines' own.
        if (check.at("check") == "console") continue;
        for (const auto& f : check.at("findings")) {
            if (!f.contains("reading")) continue;
            // A program is switched on for each take, the live module long before.
            if (f.at("name") == "pop at boot") continue;
            // How many steps the noise let the rig tell is its own, not the module's.
            if (f.at("name") == "judged") continue;
            const auto& r = f.at("reading");
            const auto key = check.at("check").get<std::string>() + " " +
                             check.at("settings").dump() + " " + f.at("name").get<std::string>() +
                             " " + std::to_string(all.size());
            all[key] = {r.at("value"), r.at("expanded_uncertainty"), f.at("verdict")};
        }
    }
    return all;
}

}  // namespace

// The criterion is the E_n number of ISO 13528:2015, 9.7: the difference over the root sum of
// squares of both expanded uncertainties (k = 2); results agree where it is at most 1. Of some 100
// readings a few may lie beyond 1 by chance (4.6 % of independent normal ones); those of one strike,
// whose place in the oscillator's period is chance, scatter more than a normal one.
TEST_CASE("the live bench reads what the program reads, within the uncertainties of both") {
    judging_bench bench{true};
    const auto program = bench.judge_program({});
    const auto live = bench.judge({});
    INFO(live.said);
    REQUIRE(program.status == 0);
    REQUIRE(live.status == 0);
    const auto expected = readings_of(program.report);
    const auto found = readings_of(live.report);
    REQUIRE(found.size() == expected.size());
    CHECK(found.size() > 100);
    std::size_t beyond = 0;
    double worst = 0.0;
    std::string worst_key;
    for (const auto& [key, e] : expected) {
        CAPTURE(key);
        REQUIRE(found.contains(key));
        const auto& f = found.at(key);
        CHECK(f.verdict == e.verdict);
        const double both = std::hypot(f.expanded, e.expanded);
        const double en =
            both > 0.0 ? std::abs(f.value - e.value) / both : (f.value == e.value ? 0.0 : 1e9);
        beyond += en > 1.0 ? 1u : 0u;
        if (en > 1.0)
            WARN(key << ": program " << e.value << " +- " << e.expanded << ", live " << f.value
                     << " +- " << f.expanded);
        if (en > worst) {
            worst = en;
            worst_key = key;
        }
    }
    WARN("worst E_n " << worst << " at " << worst_key << "; " << beyond << " of " << found.size()
                      << " beyond 1");
    CHECK(worst < 2.0);
    CHECK(static_cast<double>(beyond) <= 0.05 * static_cast<double>(found.size()));
}
