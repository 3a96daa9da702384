#include "rig/console/filled_line.hpp"

#include <fmt/format.h>

#include "rig/link/placeholders.hpp"

namespace cvrig {

std::string filled_line(const std::string& pattern,
                        const std::map<std::string, std::string>& names) {
    return with_placeholders(pattern, [&](const std::string& name) {
        const auto found = names.find(name);
        return found == names.end() ? fmt::format("{{{}}}", name) : found->second;
    });
}

}  // namespace cvrig
