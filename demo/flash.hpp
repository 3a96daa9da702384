#pragma once

#include "demo/calibration.hpp"
#include "demo/settings.hpp"

#include <filesystem>

namespace ferrule {

/// What the module keeps while it is switched off. As a file: the line "ferrule flash 1", then
/// lines "name=value".
struct flash {
    calibration stored = factory_calibration();
    settings set;
};

/// Reads the flash; a file that is not there is a new module with factory constants. Throws
/// user_mistake with the file and line when a line is not understood.
[[nodiscard]] flash read_flash(const std::filesystem::path& path);

/// Writes the flash under a temporary name and renames it.
void write_flash(const std::filesystem::path& path, const flash& what);

}  // namespace ferrule
