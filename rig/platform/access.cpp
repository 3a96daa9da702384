#include "rig/platform/access.hpp"

#include <unistd.h>

namespace cvrig {

bool may_read_and_write(const std::string& path) noexcept {
    return ::access(path.c_str(), R_OK | W_OK) == 0;
}

}  // namespace cvrig
