#include <cmath>
#include <random>

#include "rig/checks/check.hpp"
#include "rig/checks/outside_facts.hpp"
#include "tests/coverage/lists.hpp"

namespace cvrig::testing {

namespace {

// Free memory that falls steadily from look to look and scatters as a heap does between takes.
std::optional<trial> simulate(std::uint64_t seed) {
    std::mt19937_64 random{seed};
    const auto looks = std::uniform_int_distribution<int>{5, 20}(random);
    const double lost_each = std::uniform_real_distribution{0.0, 100.0}(random);
    const double scatter = std::uniform_real_distribution{3.0, 300.0}(random);
    std::normal_distribution<double> normal{0.0, scatter};
    outside_facts facts;
    facts.console.emplace();
    for (int i = 0; i < looks; ++i)
        facts.console->memory.push_back(
            {.at = seconds{1.0 * i},
             .told = std::round(60000.0 - lost_each * i + normal(random)),
             .digit = 1.0});
    module_expectations m;
    bench desk;
    limit allowed;
    allowed.upper = 64.0;
    allowed.unit = dimension::bytes;
    keyed_value wanted;
    wanted.otherwise = value{allowed};
    check_expectation c;
    c.name = "console";
    c.keys["memory loss"] = wanted;
    const auto result = find_check("console")->judge_facts({m, desk, c, {}, 1}, facts);
    const auto* found = result.find("memory loss");
    if (found == nullptr || !found->measured) return std::nullopt;
    return trial_of(lost_each * (looks - 1), *found->measured);
}

}  // namespace

// Load, free memory and the time of an answer are read with what is not known of their last digit or
// of the rig's own delay: bounds, whose interval holds the truth always and not in 95 of 100 cases.
std::vector<covered_quantity> console_coverage() {
    return {{"console", "memory loss", simulate}};
}

}  // namespace cvrig::testing
