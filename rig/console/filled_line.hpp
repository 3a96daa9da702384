#pragma once

#include <map>
#include <string>

namespace cvrig {

/// A line for the console, or the reply that is wanted, with each {name} replaced by what stands for
/// it. What has no such name, as the {3} of a regular expression, stays as it is.
[[nodiscard]] std::string filled_line(const std::string& pattern,
                                      const std::map<std::string, std::string>& names);

}  // namespace cvrig
