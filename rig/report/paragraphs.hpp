#pragma once

#include <string>
#include <vector>

#include "rig/report/ink.hpp"

namespace cvrig::report {

/// A heading and sentences beneath it, each wrapped under a dash of its own; nothing for none.
void add_paragraphs(std::string& out, const std::string& heading,
                    const std::vector<std::string>& all, const ink& pen);

}  // namespace cvrig::report
