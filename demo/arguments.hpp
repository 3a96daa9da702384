#pragma once

#include "demo/image.hpp"
#include "demo/render.hpp"

#include <cstdint>
#include <filesystem>
#include <span>
#include <string>

namespace ferrule {

/// What the name=value arguments of a command ask for.
struct arguments {
    wiring wires;
    std::uint32_t unit = 1;
    std::uint64_t seed = 1;
    std::filesystem::path state;
    ferrule::image image;
    ferrule::settings set;  ///< as stored, then as the arguments say
    ferrule::calibration stored = factory_calibration();
};

/// Reads name=value arguments, the flash and the image; throws user_mistake at an unknown name, an
/// impossible value or an unreadable file. Faults named by arguments are added to the image's.
[[nodiscard]] arguments parse_arguments(std::span<const std::string> words);

/// Maker, model, serial number and version with commas between them, as *IDN? answers (IEEE
/// 488.2-1992, 10.14).
[[nodiscard]] std::string identity_of(const arguments& asked);

/// The module that these arguments describe.
[[nodiscard]] module_plan plan_of(const arguments& asked, double rate_hertz);

}  // namespace ferrule
