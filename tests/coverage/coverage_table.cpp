#include <fmt/format.h>

#include <cstdio>
#include <cstdlib>
#include <string>

#include "tests/coverage/coverage.hpp"

// Prints how often the stated 95 % interval of each reading held the truth; status 1 if any lies
// outside 93 to 97 %.
//   coverage_table [TRIALS [SEED [CHECK [trials]]]]      CHECK may be 'clicks: pitch steps', too
namespace {

void print_trials(const cvrig::testing::covered_quantity& what, std::size_t trials,
                  std::uint64_t seed) {
    for (std::size_t i = 0; i < trials; ++i) {
        const auto t = what.simulate(seed + i);
        if (!t) {
            fmt::print("  {} {}: refused\n", what.reading, seed + i);
            continue;
        }
        fmt::print("  {} {}: truth {:.9g}, read {:.9g}, u {:.3g}, error/u {:+.2f}\n", what.reading,
                   seed + i, t->truth, t->value, t->standard_uncertainty,
                   (t->value - t->truth) / t->standard_uncertainty);
        for (const auto& part : t->budget)
            fmt::print("      {:.3g} {}\n", part.standard_uncertainty, part.name);
    }
}

}  // namespace

int main(int count, char** words) {
    using namespace cvrig::testing;
    const auto trials = count > 1 ? std::strtoull(words[1], nullptr, 10) : 1000ULL;
    const auto seed = count > 2 ? std::strtoull(words[2], nullptr, 10) : 20261128ULL;
    const std::string only = count > 3 ? words[3] : "";
    fmt::print("{:<12} {:<26} {:>7} {:>8} {:>8} {:>11} {:>8} {:>10}\n", "check", "reading",
               "trials", "held/%", "refused", "median e/u", "rms e/u", "worst e/u");
    bool all_true = true, any = false;
    for (const auto& what : all_quantities()) {
        if (!only.empty() && what.check != only && what.check + ": " + what.reading != only)
            continue;
        any = true;
        if (count > 4) print_trials(what, trials, seed);
        const auto c = cover(what, trials, seed);
        all_true = all_true && c.is_true();
        fmt::print("{:<12} {:<26} {:>7} {:>8.1f} {:>8} {:>11.3f} {:>8.3f} {:>10.2f}{}\n",
                   what.check, what.reading, c.trials, c.percent(), c.refused, c.median_ratio,
                   c.rms_ratio, c.worst_ratio, c.is_true() ? "" : "   outside 93 to 97 %");
        std::fflush(stdout);
    }
    if (!any) fmt::print("No check '{}' has a quantity here.\n", only);
    return any && all_true ? 0 : 1;
}
