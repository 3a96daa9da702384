#include "rig/cli/asked_build.hpp"

#include <fmt/format.h>
#include <filesystem>

#include "rig/platform/files.hpp"

namespace cvrig {

namespace fs = std::filesystem;

void require_image(const std::string& image) {
    if (!image.empty() && !fs::is_regular_file(image))
        throw user_error{fmt::format(
            "The image file {} does not exist; build the firmware first or correct --image.",
            image)};
}

run_identity identity_of(const run_arguments& a) {
    return {.unit = a.unit,
            .build_name = a.build_name.empty() ? fs::path{a.image}.stem().string() : a.build_name,
            .build_sha256 = a.image.empty() ? std::string{} : sha256_of_file(a.image)};
}

}  // namespace cvrig
