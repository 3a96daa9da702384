#pragma once

#include <vector>

#include "tests/coverage/coverage.hpp"

namespace cvrig::testing {

[[nodiscard]] std::vector<covered_quantity> level_coverage();

}  // namespace cvrig::testing
