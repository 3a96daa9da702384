#pragma once

#include <string>

#include "rig/run/result.hpp"

namespace cvrig {

/// The run for continuous integration: the portable subset of JUnit-style XML.
///
/// One testsuite a check, one testcase a finding (classname "check.choice"). A sure violation is a
/// failure, an unsure finding an error (the bench could not tell), a skipped one skipped.
/// Source: the schema junit-4.xsd of the Jenkins project (Thales, 2010), which it satisfies.
[[nodiscard]] std::string junit_report(const run_result& run);

}  // namespace cvrig
