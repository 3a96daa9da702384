#include "rig/platform/file_watch.hpp"

#include <catch2/catch.hpp>
#include <chrono>
#include <filesystem>
#include <fstream>

#include "rig/platform/files.hpp"

namespace {

using namespace cvrig;
using namespace std::chrono_literals;
namespace fs = std::filesystem;

bool tells_of(file_watch& watch, const fs::path& file) {
    for (int i = 0; i < 50; ++i)
        if (watch.changes(100ms).contains(file)) return true;
    return false;
}

}  // namespace

TEST_CASE("a watched folder tells of files that are written, moved in and removed",
          "[platform][watch]") {
    const temporary_folder folder;
    file_watch watch{{folder.path()}};
    const auto file = folder.path() / "a.hex";
    std::ofstream{file} << "x";
    CHECK(tells_of(watch, file));
    const auto moved = folder.path() / "b.hex";
    fs::rename(file, moved);
    CHECK(tells_of(watch, moved));
    fs::remove(moved);
    CHECK(tells_of(watch, moved));
}

TEST_CASE("a folder that is made anew is watched again", "[platform][watch]") {
    const temporary_folder above;
    const auto folder = above.path() / "out";
    file_watch watch{{folder}};
    CHECK(watch.changes(1ms).empty());
    fs::create_directory(folder);
    static_cast<void>(watch.changes(1ms));
    std::ofstream{folder / "a.hex"} << "x";
    CHECK(tells_of(watch, folder / "a.hex"));
    fs::remove_all(folder);
    while (!watch.changes(100ms).empty()) {
    }
    fs::create_directory(folder);
    static_cast<void>(watch.changes(1ms));
    std::ofstream{folder / "b.hex"} << "x";
    CHECK(tells_of(watch, folder / "b.hex"));
}
