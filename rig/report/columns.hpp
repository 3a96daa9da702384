#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "rig/report/ink.hpp"

namespace cvrig::report {

/// Text in columns, for a terminal.
struct text_columns {
    std::vector<std::string> head;
    std::vector<std::vector<std::string>> rows;  ///< a row may have fewer cells than the head
};

/// The head in faint ink and the first `most_rows` rows beneath it, two columns in. Each column is as wide as its widest
/// cell; where that does not fit into the pen's width, the widest gives way and its cells are wrapped.
void add_columns(std::string& out, const text_columns& table, std::size_t most_rows,
                 const ink& pen);

}  // namespace cvrig::report
