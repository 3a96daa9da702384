#pragma once

#include <map>
#include <string>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/run/result.hpp"
#include "tests/matrix/fault_rows.hpp"

/// Plays the demo module with one fault and compares what the checks say with what they should say.
namespace cvrig::testing {

/// What is played, and to whom.
struct trial {
    module_expectations module;
    bench desk;
    unsigned first_unit{1}, last_unit{10};
    std::vector<std::string> checks;  ///< empty: all
};

/// In the order of their gravity.
enum class deviation_kind {
    false_pass,  ///< the check that must fail passed
    not_seen,    ///< it stayed unsure, or was not played
    false_alarm  ///< a check that the fault does not touch failed or was unsure
};

struct deviation {
    deviation_kind kind;
    std::string text;
};

/// One check over all units.
struct tally {
    int pass{0}, fail{0}, unsure{0};
};
using tallies = std::map<std::string, tally>;

/// One fault at one size, over all units.
struct row_result {
    std::string label;
    tallies checks;
    int runs{0};
    std::vector<deviation> deviations;
    std::vector<std::string> readings;  ///< every finding of every run, a line each
};

/// The good build: every check must pass.
[[nodiscard]] row_result examine_good(const trial& t);

/// The fault well beyond its tolerance: `must` fails, and nothing that it does not touch does.
[[nodiscard]] row_result examine_beyond(const trial& t, const fault_row& row);

/// The fault at half its tolerance: every check must pass.
[[nodiscard]] row_result examine_half(const trial& t, const fault_row& row);

/// Whether a comma-separated list has this word.
[[nodiscard]] bool lists(std::string_view list, std::string_view word);

}  // namespace cvrig::testing
