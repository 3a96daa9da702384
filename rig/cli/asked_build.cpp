#include "rig/cli/asked_build.hpp"

#include <fmt/format.h>
#include <filesystem>

#include "rig/checks/image_version.hpp"
#include "rig/flash/git_description.hpp"
#include "rig/image/read_image.hpp"
#include "rig/run/kept_facts.hpp"

namespace cvrig {

namespace fs = std::filesystem;

void require_image(const std::string& image, const bench& b) {
    if (!b.build && !image.empty() && !fs::is_regular_file(image))
        throw user_error{fmt::format(
            "The image file {} does not exist; build the firmware first or correct --image.",
            image)};
}

run_arguments with_build(run_arguments a, const bench& b) {
    if (!b.build) return a;
    if (a.image.empty()) a.image = b.build->makes;
    if (a.commit.empty()) a.commit = git_description(b.build->folder);
    return a;
}

run_identity identity_of(const run_arguments& a, const module_expectations& m, const bench& b) {
    run_identity who;
    who.unit = a.unit;
    // An image that is made again and again has one name for all builds.
    const auto of_image = fs::path{a.image}.stem().string();
    who.build_name = !a.build_name.empty()          ? a.build_name
                     : b.build && !a.commit.empty() ? a.commit
                                                    : of_image;
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
