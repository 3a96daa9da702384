#pragma once

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "rig/platform/process.hpp"

/// Programs of others that read what was packed, and the bytes that they read.
namespace cvrig::testing {

/// What such a program wrote; it must end well.
inline std::string output_of(const std::vector<std::string>& command) {
    const auto r = run_process(command);
    CAPTURE(command.front(), r.reason, r.err.text);
    REQUIRE(r.how == process_result::ending::exited);
    CHECK(r.status == 0);
    return r.out.text;
}

inline std::string bytes_of(const std::filesystem::path& file) {
    std::ifstream in{file, std::ios::binary};
    std::ostringstream out;
    out << in.rdbuf();
    return out.str();
}

}  // namespace cvrig::testing
