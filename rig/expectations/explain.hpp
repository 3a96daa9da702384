#pragma once

#include <span>
#include <string>

#include "rig/expectations/expectations.hpp"

namespace cvrig {

/// An expectation file in plain words, for somebody who is about to run it: what is fed and
/// recorded, and for every check what is played, with which settings, what is read and what is
/// demanded, and how a reading is judged. Lines end in '\n'. `known` are the checks that the file
/// was read with.
[[nodiscard]] std::string explain(const module_expectations& m, std::span<const check_spec> known);

/// What a check plays and reads, and every key that it takes with what it wants: for somebody who
/// writes an expectation file.
[[nodiscard]] std::string explain_check(const check_spec& spec);

}  // namespace cvrig
