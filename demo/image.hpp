#pragma once

#include "demo/calibration_habits.hpp"
#include "demo/faults.hpp"

#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>

namespace ferrule {

/// What a build does on its console, beside answering.
struct console_habits {
    double load_percent = 41.5;      ///< of the processor's time
    double leak_bytes = 0.0;         ///< lost with every question that is answered
    std::optional<int> mute_after;   ///< lines that are still answered
    std::optional<int> reset_after;  ///< lines after which it starts again, once
};

/// What the linker makes of a build.
struct linked_parts {
    std::size_t code_bytes = std::size_t{88} * 1024;
    std::string stamp;  ///< version written into the file; empty: the build's own
    bool wrong_crc = false;
};

/// One build of the firmware, as a file describes it.
///
/// The file begins with the line "ferrule image 1"; then come lines "version: ...", "name: ...",
/// any number of "note: ..." (what the author changed) and of "fault: NAME MAGNITUDE". "load:
/// PERCENT", "leak: BYTES", "mute after: LINES" and "reset after: LINES" say what its console does;
/// "calibration: ..." what its calibration does (demo/calibration_habits.hpp); "code: KIB", "stamp: TEXT" and "crc: wrong" what the linker makes of it. Empty lines and lines
/// that begin with # say nothing. A linked file (demo/firmware_file.hpp) carries the same lines.
struct image {
    std::string version = "0.0.0-host";
    std::string name = "host";
    std::string note;
    fault_set faults;
    console_habits console;
    calibration_habits calibration;
    linked_parts linked;
};

/// Reads an image; throws user_mistake with file and line when it is not understood.
[[nodiscard]] image read_image(const std::filesystem::path& path);

}  // namespace ferrule
