#include "rig/platform/own_program.hpp"

#include <filesystem>

namespace cvrig {

std::string own_program_folder() {
    std::error_code error;
    const auto self = std::filesystem::read_symlink("/proc/self/exe", error);
    return error ? std::string{} : self.parent_path().string();
}

}  // namespace cvrig
