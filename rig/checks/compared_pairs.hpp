#pragma once

#include <initializer_list>
#include <span>
#include <string>
#include <vector>

#include "rig/checks/check.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

/// How a check compares one value of a setting with the others (check::conclude).
struct comparison {
    std::string key;                             ///< of the spec: names the setting
    std::initializer_list<const char*> demands;  ///< what the comparison judges
    /// Judges what it can of `other`, which was played with another value than `first`.
    void (*judge)(findings&, const check_request&, const check_result& first,
                  const check_result& other);
};

/// Compares every result with the one of the same settings but for the compared one, which stands at
/// the first of its values. A demand that is not judged is unsure, or skipped where one of the two
/// was not played.
[[nodiscard]] std::vector<check_result> compare_pairs(const comparison& how,
                                                      const module_expectations& m, const bench& b,
                                                      const check_expectation& wanted,
                                                      std::span<const check_result> results);

}  // namespace cvrig
