#pragma once

#include <catch2/catch.hpp>
#include <cstddef>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "rig/image/image.hpp"

/// Bytes of tests: from texts, from files, and as texts again.
namespace cvrig::testing {

inline std::vector<std::byte> bytes_of(std::string_view text) {
    std::vector<std::byte> out;
    for (const char c : text) out.push_back(static_cast<std::byte>(c));
    return out;
}

inline std::vector<std::byte> file_bytes(const std::filesystem::path& file) {
    std::ifstream in{file, std::ios::binary};
    REQUIRE(in);
    const std::string all{std::istreambuf_iterator<char>{in}, {}};
    return bytes_of(all);
}

inline std::vector<std::byte> example(const std::string& name) {
    return file_bytes(std::filesystem::path{CVRIG_TEST_DATA "/image"} / name);
}

/// The payload of the small examples.
inline constexpr std::string_view payload = "123456789ABCDEF\n";

/// All sentences, one a line, to look for words in.
inline std::string faults_of(const firmware_image& image) {
    std::string all;
    for (const auto& f : image.faults) all += f.sentence + '\n';
    return all;
}

inline bool has_checksum_fault(const firmware_image& image) {
    for (const auto& f : image.faults)
        if (f.what == image_fault::kind::checksum) return true;
    return false;
}

}  // namespace cvrig::testing
