#pragma once

#include "demo/faults.hpp"

#include <filesystem>
#include <string>

namespace ferrule {

/// One build of the firmware, as a file describes it.
///
/// The file begins with the line "ferrule image 1"; then come lines "version: ...", "name: ...",
/// any number of "note: ..." (what the author changed) and of "fault: NAME MAGNITUDE". Empty lines
/// and lines that begin with # say nothing.
struct image {
    std::string version = "0.0.0-host";
    std::string name = "host";
    std::string note;
    fault_set faults;
};

/// Reads an image; throws user_mistake with file and line when it is not understood.
[[nodiscard]] image read_image(const std::filesystem::path& path);

}  // namespace ferrule
