#include "rig/expectations/place.hpp"

#include <fmt/format.h>

namespace cvrig {

std::string place::text() const {
    return line == 0 ? file : fmt::format("{}:{}:{}", file, line, column);
}

}  // namespace cvrig
