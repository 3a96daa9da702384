#include "rig/service/settling.hpp"

#include <catch2/catch.hpp>

namespace {

using namespace cvrig::service;
using namespace std::chrono_literals;
namespace fs = std::filesystem;
using files = std::vector<fs::path>;

const fs::path image{"out/firmware.hex"};

file_look look(std::uintmax_t size) {
    return {size, fs::file_time_type{}};
}

const steady_point start{};

}  // namespace

TEST_CASE("a file is looked at only after half a second of quiet", "[service][settling]") {
    settling_files s;
    s.seen(image, look(10), start);
    CHECK(s.ready(start + 499ms).empty());
    CHECK(s.ready(start + 500ms) == files{image});
    s.touched(image, start + 499ms);
    CHECK(s.ready(start + 900ms).empty());
    CHECK(s.ready(start + 999ms) == files{image});
}

TEST_CASE("a file that grows is not quiet, whether or not the system tells",
          "[service][settling]") {
    settling_files s;
    for (int i = 0; i < 10; ++i) {
        const auto now = start + i * 300ms;
        s.seen(image, look(static_cast<std::uintmax_t>(i)), now);
        CHECK(s.ready(now).empty());
    }
    CHECK(s.ready(start + 2700ms + 500ms) == files{image});
}

TEST_CASE("bytes must be the same at two looks that lie apart", "[service][settling]") {
    settling_files s;
    s.seen(image, look(10), start);
    CHECK_FALSE(s.is_whole(image, "aa", start + 500ms));
    CHECK(s.ready(start + 600ms).empty());
    CHECK(s.ready(start + 700ms) == files{image});
    CHECK(s.is_whole(image, "aa", start + 700ms));
    CHECK(s.ready(start + 10s).empty());
    CHECK_FALSE(s.waits());
}

TEST_CASE("bytes that changed behind an unchanged size and time start the wait again",
          "[service][settling]") {
    settling_files s;
    s.seen(image, look(10), start);
    CHECK_FALSE(s.is_whole(image, "aa", start + 500ms));
    CHECK_FALSE(s.is_whole(image, "bb", start + 700ms));
    CHECK(s.ready(start + 1100ms).empty());
    CHECK(s.ready(start + 1200ms) == files{image});
    CHECK(s.is_whole(image, "bb", start + 1200ms));
}

TEST_CASE("a change between the two looks undoes the first", "[service][settling]") {
    settling_files s;
    s.seen(image, look(10), start);
    CHECK_FALSE(s.is_whole(image, "aa", start + 500ms));
    s.seen(image, look(11), start + 600ms);
    CHECK_FALSE(s.is_whole(image, "aa", start + 1100ms));
}

TEST_CASE("what was settled settles again when it changes, and is forgotten when it goes",
          "[service][settling]") {
    settling_files s;
    s.seen(image, look(10), start);
    s.leave(image);
    CHECK_FALSE(s.waits());
    s.seen(image, look(10), start + 5s);
    CHECK_FALSE(s.waits());
    s.seen(image, look(12), start + 6s);
    CHECK(s.waits());
    s.gone(image);
    CHECK_FALSE(s.waits());
    CHECK_FALSE(s.is_whole(image, "aa", start + 7s));
}
