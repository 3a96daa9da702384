#include "rig/platform/secrets.hpp"

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <set>
#include <string>

#include "rig/platform/files.hpp"

namespace {

using namespace cvrig;
namespace fs = std::filesystem;

}  // namespace

TEST_CASE("what cannot be guessed has 256 bits and is another each time", "[platform][secrets]") {
    std::set<std::string> all;
    for (int i = 0; i < 100; ++i) all.insert(unguessable());
    CHECK(all.size() == 100);
    CHECK(all.begin()->size() == 64);
    CHECK(all.begin()->find_first_not_of("0123456789abcdef") == std::string::npos);
}

TEST_CASE("a private file is its owner's alone, also where another was before",
          "[platform][secrets]") {
    const temporary_folder folder;
    const auto file = folder.path() / "token";
    std::ofstream{file} << "open to all";
    fs::permissions(file, fs::perms::all);
    write_private_file(file, "secret\n");
    CHECK(fs::status(file).permissions() == (fs::perms::owner_read | fs::perms::owner_write));
    std::ifstream in{file};
    std::string text;
    std::getline(in, text);
    CHECK(text == "secret");
}

TEST_CASE("two secrets are the same only if every byte is", "[platform][secrets]") {
    CHECK(is_same_secret("abc", "abc"));
    CHECK_FALSE(is_same_secret("abc", "abd"));
    CHECK_FALSE(is_same_secret("abc", "ab"));
    CHECK_FALSE(is_same_secret("", "a"));
}
