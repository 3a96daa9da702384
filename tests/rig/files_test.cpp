#include "rig/platform/files.hpp"

#include <sys/resource.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <csignal>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include "rig/expectations/user_error.hpp"

namespace {

using namespace cvrig;
namespace fs = std::filesystem;
using Catch::Matchers::Contains;
using Catch::Matchers::StartsWith;

std::string content(const fs::path& file) {
    std::ifstream in{file, std::ios::binary};
    return {std::istreambuf_iterator<char>{in}, {}};
}

std::size_t entries(const fs::path& folder) {
    return static_cast<std::size_t>(
        std::distance(fs::directory_iterator{folder}, fs::directory_iterator{}));
}

std::string refusal_of_writing(const fs::path& file, std::string_view text) {
    try {
        write_file_atomically(file, text);
    } catch (const user_error& e) {
        return e.what();
    }
    return "it was written";
}

/// No file of this process can grow beyond `bytes`: what a full disk looks like to an ordinary
/// user.
class file_size_limit {
public:
    explicit file_size_limit(rlim_t bytes) {
        ::signal(SIGXFSZ, SIG_IGN);
        ::getrlimit(RLIMIT_FSIZE, &before_);
        const rlimit now{bytes, before_.rlim_max};
        ::setrlimit(RLIMIT_FSIZE, &now);
    }
    file_size_limit(const file_size_limit&) = delete;
    file_size_limit& operator=(const file_size_limit&) = delete;
    ~file_size_limit() { ::setrlimit(RLIMIT_FSIZE, &before_); }

private:
    rlimit before_{};
};

TEST_CASE("files: a written file holds exactly the bytes given", "[rig][files]") {
    const temporary_folder folder;
    const std::string text{"a\0b\r\n\xff", 6};
    write_file_atomically(folder.path() / "report", text);
    CHECK(content(folder.path() / "report") == text);
    write_file_atomically(folder.path() / "report", "");
    CHECK(content(folder.path() / "report").empty());
    CHECK(entries(folder.path()) == 1);
}

TEST_CASE("files: a missing folder is named", "[rig][files]") {
    const temporary_folder folder;
    const auto file = folder.path() / "nowhere" / "report.html";
    CHECK(refusal_of_writing(file, "x") == "cannot write '" + file.string() + "': the folder '" +
                                               (folder.path() / "nowhere").string() +
                                               "' does not exist; create it first");
}

TEST_CASE("files: a folder is not overwritten", "[rig][files]") {
    const temporary_folder folder;
    CHECK_THAT(refusal_of_writing(folder.path(), "x"), Contains("it is a folder"));
    CHECK_THAT(refusal_of_writing(folder.path() / "", "x"), Contains("it is a folder"));
}

TEST_CASE("files: a path below a regular file is refused", "[rig][files]") {
    const temporary_folder folder;
    write_file_atomically(folder.path() / "file", "x");
    CHECK_THAT(refusal_of_writing(folder.path() / "file" / "report", "x"),
               Contains("is not a folder"));
}

TEST_CASE("files: a folder without write permission is named", "[rig][files]") {
    if (::geteuid() == 0) {
        WARN("not tried: the superuser may write anywhere");
        return;
    }
    const temporary_folder folder;
    fs::permissions(folder.path(), fs::perms::owner_read | fs::perms::owner_exec);
    CHECK_THAT(refusal_of_writing(folder.path() / "report", "x"), Contains("no permission"));
    fs::permissions(folder.path(), fs::perms::owner_all);
}

TEST_CASE("files: a full disk is called full", "[rig][files]") {
    // full(4): writing to /dev/full fails with ENOSPC.
    CHECK(refusal_of_writing("/dev/full", "x") ==
          "cannot write '/dev/full': the disk is full; free some space");
}

TEST_CASE("files: a write that fails half-way leaves the old file and nothing else",
          "[rig][files]") {
    const temporary_folder folder;
    const auto file = folder.path() / "report";
    write_file_atomically(file, "old");
    {
        const file_size_limit limit{1000};
        CHECK_THAT(refusal_of_writing(file, std::string(5000, 'x')),
                   Contains("larger than the system allows"));
    }
    CHECK(content(file) == "old");
    CHECK(entries(folder.path()) == 1);
}

TEST_CASE("files: a symbolic link keeps pointing to the file that is rewritten", "[rig][files]") {
    const temporary_folder folder;
    write_file_atomically(folder.path() / "real", "old");
    fs::create_symlink("real", folder.path() / "alias");
    write_file_atomically(folder.path() / "alias", "new");
    CHECK(fs::is_symlink(folder.path() / "alias"));
    CHECK(content(folder.path() / "real") == "new");
}

TEST_CASE("files: a temporary folder goes away with what is in it", "[rig][files]") {
    fs::path where;
    {
        const temporary_folder folder;
        where = folder.path();
        fs::create_directories(where / "deep" / "deeper");
        std::ofstream{where / "deep" / "file"} << "x";
    }
    CHECK_FALSE(fs::exists(where));
}

TEST_CASE("files: a temporary folder needs a parent", "[rig][files]") {
    const temporary_folder folder;
    CHECK_THROWS_WITH(temporary_folder{folder.path() / "nowhere"}, Contains("does not exist"));
}

TEST_CASE("sha256: agrees with the examples of NIST for FIPS 180-4", "[rig][files]") {
    // NIST, "Cryptographic Standards and Guidelines: Example Values", SHA-256: one block, two
    // blocks; and the million letters of FIPS 180-2, appendix B.3. From memory.
    CHECK(sha256_of("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    CHECK(sha256_of("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq") ==
          "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    CHECK(sha256_of(std::string(1000000, 'a')) ==
          "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
    CHECK(sha256_of("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

TEST_CASE("sha256: a file sums like its bytes", "[rig][files]") {
    const temporary_folder folder;
    const auto size = GENERATE(std::size_t{0}, std::size_t{1}, std::size_t{65536},
                               std::size_t{65537}, std::size_t{200000});
    const std::string text(size, 'q');
    write_file_atomically(folder.path() / "image", text);
    CHECK(sha256_of_file(folder.path() / "image") == sha256_of(text));
}

TEST_CASE("sha256: an unreadable file is refused by name", "[rig][files]") {
    const temporary_folder folder;
    CHECK_THROWS_WITH(sha256_of_file(folder.path() / "nothing"),
                      StartsWith("cannot read '") && Contains("there is no such file"));
    CHECK_THROWS_WITH(sha256_of_file(folder.path()), Contains("it is a folder"));
}

}  // namespace
