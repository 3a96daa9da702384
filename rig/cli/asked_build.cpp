#include "rig/cli/asked_build.hpp"

#include <fmt/format.h>
#include <filesystem>

#include "rig/checks/image_version.hpp"
#include "rig/image/read_image.hpp"
#include "rig/run/kept_facts.hpp"

namespace cvrig {

namespace fs = std::filesystem;

void require_image(const std::string& image) {
    if (!image.empty() && !fs::is_regular_file(image))
        throw user_error{fmt::format(
            "The image file {} does not exist; build the firmware first or correct --image.",
            image)};
}

run_identity identity_of(const run_arguments& a, const module_expectations& m) {
    run_identity who;
    who.unit = a.unit;
    who.build_name = a.build_name.empty() ? fs::path{a.image}.stem().string() : a.build_name;
    who.build_commit = a.commit;
    if (a.image.empty()) return who;
    const auto image = facts_of_image(a.image);
    who.build_sha256 = image.sha256;
    who.build_size_bytes = image.bytes.size();
    if (const auto* pattern = version_pattern(m))
        who.build_version = version_in(read_image(image.bytes), pattern->text).text;
    return who;
}

}  // namespace cvrig
