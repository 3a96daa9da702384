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

TEST_CASE("what is said beside an image is not believed of the next one, unless it is said again",
          "[service][watch]") {
    const temporary_folder folder;
    const auto file = folder.path() / "out.hex";
    const auto say = [&](const char* commit) {
        std::ofstream{folder.path() / "out.hex.commit"} << commit << "\n";
    };
    image_watch watch{{folder.path()}};
    say("v1-1-gabc");
    std::ofstream{file} << "one";
    CHECK(wait_for(watch, 1).at(0).commit == "v1-1-gabc");
    CHECK(watch.problems().empty());
    std::ofstream{file} << "two";
    CHECK(wait_for(watch, 1).at(0).commit.empty());
    CHECK(watch.problems().size() == 1);
    say("v1-2-gdef");
    std::ofstream{file} << "three";
    CHECK(wait_for(watch, 1).at(0).commit == "v1-2-gdef");
    // The same bytes are of the same commit.
    std::ofstream{file} << "three";
    CHECK(wait_for(watch, 1).at(0).commit == "v1-2-gdef");
}

TEST_CASE("an image that could not be taken in is found again", "[service][watch]") {
    const temporary_folder folder;
    const auto file = folder.path() / "out.hex";
    image_watch watch{{folder.path()}};
    std::ofstream{file} << "one";
    REQUIRE(wait_for(watch, 1).size() == 1);
    watch.find_again(file);
    CHECK(wait_for(watch, 1).at(0).bytes == "one");
}

TEST_CASE("a folder that is not there yet is told, and watched once it is made",
          "[service][watch]") {
    const temporary_folder folder;
    const auto later = folder.path() / "later";
    image_watch watch{{later}};
    const auto problems = watch.problems();
    REQUIRE(problems.size() == 1);
    CHECK(problems[0].find("There is no folder") == 0);
    fs::create_directory(later);
    std::ofstream{later / "out.hex"} << "one";
    CHECK(wait_for(watch, 1).size() == 1);
}
