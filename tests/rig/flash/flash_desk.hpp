#pragma once

#include <fmt/format.h>

#include "tests/rig/cli_desk.hpp"

/// A bench whose module is a file, "device.hex": flashing writes the firmware there, and from there
/// the demo's program takes what it plays and what its console tells.
namespace cvrig::testing {

/// A quick check, a console that tells the version, and an image that carries it.
inline std::string flashed_expectations() {
    return expectations_with("between 6 dBu and 12 dBu") +
           "  image: {version: \"Ferrule firmware ([0-9]+[.][0-9]+[.][0-9]+)\"}\n"
           "console: {identity: {send: \"*IDN?\", expect: \"[^,]*,Ferrule,[^,]*,(.*)\"}}\n";
}

/// `steps` is what stands under the keys build and flash.
inline std::string flashed_bench(const std::string& steps, const fs::path& device) {
    return fmt::format(
        "format: cvrig bench 1\nname: test\nlink: {{program: [{0}, render, \"{{stimulus}}\", "
        "\"{{response}}\", \"{{settings}}\", \"jacks=pitch,gate\", \"image={1}\"], rate: 48 kHz, "
        "time limit: 20 s}}\n"
        "console: {{program: [{0}, console, \"image={1}\"], return time: 0.3 s}}\n"
        "outputs:\n  - {{jack: pitch, limits: -0.1 V to 5 V}}\n"
        "  - {{jack: gate, limits: 0 V to 5.5 V}}\n"
        "inputs: [{{jack: left}}, {{jack: right}}]\n{2}",
        FERRULE_PROGRAM, device.string(), steps);
}

struct flash_desk : desk {
    fs::path device = folder.path() / "device.hex";

    explicit flash_desk(const std::string& steps) {
        write_file_atomically(expectations, flashed_expectations());
        write_file_atomically(bench, flashed_bench(steps, device));
        write_file_atomically(folder.path() / "bass.ferrule",
                              "ferrule image 1\nversion: 1.9.0\nname: bass\n");
    }
};

}  // namespace cvrig::testing
