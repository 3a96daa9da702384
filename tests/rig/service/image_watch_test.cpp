#include "rig/service/image_watch.hpp"

#include <catch2/catch.hpp>
#include <fstream>
#include <thread>

#include "rig/expectations/user_error.hpp"
#include "rig/platform/files.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::service;
using namespace std::chrono_literals;
namespace fs = std::filesystem;

std::vector<found_image> wait_for(image_watch& watch, std::size_t count) {
    std::vector<found_image> out;
    for (int i = 0; i < 100 && out.size() < count; ++i)
        for (auto& image : watch.next(100ms)) out.push_back(std::move(image));
    return out;
}

}  // namespace

TEST_CASE("an image is found once it is whole, with what is said beside it", "[service][watch]") {
    const temporary_folder folder;
    image_watch watch{{folder.path()}};
    const auto file = folder.path() / "good.hex";
    {
        std::ofstream out{file};
        for (int i = 0; i < 5; ++i) {
            out << "part" << std::flush;
            CHECK(watch.next(100ms).empty());
        }
    }
    std::ofstream{folder.path() / "good.hex.commit"} << "v1-2-gabc\n";
    std::ofstream{folder.path() / "notes.txt"} << "no image";
    const auto found = wait_for(watch, 1);
    REQUIRE(found.size() == 1);
    CHECK(found[0].bytes == "partpartpartpartpart");
    CHECK(found[0].sha256 == sha256_of(std::string{"partpartpartpartpart"}));
    CHECK(found[0].commit == "v1-2-gabc");
}

TEST_CASE("an image that takes another's place is found again", "[service][watch]") {
    const temporary_folder folder;
    const auto file = folder.path() / "out.uf2";
    std::ofstream{file} << "one";
    image_watch watch{{folder.path()}};
    CHECK(wait_for(watch, 1).at(0).bytes == "one");
    std::ofstream{folder.path() / "part"} << "two";
    fs::rename(folder.path() / "part", file);
    CHECK(wait_for(watch, 1).at(0).bytes == "two");
}

TEST_CASE("a file may be watched by its path, whatever it is called, before it is there",
          "[service][watch]") {
    const temporary_folder folder;
    const auto file = folder.path() / "firmware.img";
    image_watch watch{{file}};
    std::ofstream{folder.path() / "other.hex"} << "not asked for";
    std::ofstream{file} << "image";
    const auto found = wait_for(watch, 1);
    REQUIRE(found.size() == 1);
    CHECK(found[0].file == file);
}

TEST_CASE("what is no file is no image, and says so", "[service][watch]") {
    const temporary_folder folder;
    CHECK_THROWS_AS(read_found_image(folder.path()), user_error);
    CHECK_THROWS_AS(read_found_image(folder.path() / "none.hex"), user_error);
}
