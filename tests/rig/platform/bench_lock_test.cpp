#include "rig/platform/bench_lock.hpp"

#include <unistd.h>

#include <catch2/catch.hpp>
#include <chrono>
#include <string>
#include <thread>
#include <vector>

#include "rig/platform/files.hpp"
#include "rig/platform/followed_program.hpp"

namespace {

using namespace cvrig;
using namespace std::chrono_literals;

bool comes_free(const std::filesystem::path& file) {
    for (int i = 0; i < 100; ++i) {
        if (bench_lock::take(file, "next")) return true;
        std::this_thread::sleep_for(20ms);
    }
    return false;
}

}  // namespace

TEST_CASE("a lock is taken once, and its file says by whom", "[platform][lock]") {
    const temporary_folder folder;
    const auto file = folder.path() / "one.lock";
    {
        const auto first = bench_lock::take(file, "cvrig serve module.yaml");
        REQUIRE(first);
        CHECK_FALSE(bench_lock::take(file, "somebody else"));
        const auto holder = holder_of(file);
        CHECK(holder.pid == ::getpid());
        CHECK(holder.what == "cvrig serve module.yaml");
        CHECK(holder.lives);
    }
    CHECK(bench_lock::take(file, "next"));
}

TEST_CASE("a program that shares a lock holds it for as long as it lives", "[platform][lock]") {
    const temporary_folder folder;
    const auto file = folder.path() / "shared.lock";
    auto lock = bench_lock::take(file, "daemon");
    REQUIRE(lock);
    const std::vector<std::string> sleeps{"/bin/sh", "-c", "sleep 60"};
    const std::vector<int> shared{lock->number()};
    {
        const followed_program child{sleeps, shared};
        REQUIRE(child.problem().empty());
        lock.reset();
        CHECK_FALSE(bench_lock::take(file, "too early"));
    }
    CHECK(comes_free(file));
}

TEST_CASE("a lock does not go to programs that were not meant to have it", "[platform][lock]") {
    const temporary_folder folder;
    const auto file = folder.path() / "own.lock";
    auto lock = bench_lock::take(file, "daemon");
    REQUIRE(lock);
    const std::vector<std::string> sleeps{"/bin/sh", "-c", "sleep 60"};
    const followed_program child{sleeps, {}};
    lock.reset();
    CHECK(bench_lock::take(file, "next"));
}

TEST_CASE("what nobody has written a holder into names nobody", "[platform][lock]") {
    const temporary_folder folder;
    const auto holder = holder_of(folder.path() / "none.lock");
    CHECK(holder.pid == 0);
    CHECK_FALSE(holder.lives);
}
