#include "tests/support/live_bench.hpp"

#include <catch2/catch.hpp>
#include <csignal>
#include <filesystem>

using namespace cvrig::test_support;
using Catch::Matchers::Contains;

namespace {

/// One that ends as soon as it is started.
live_bench_settings without_server() {
    live_bench_settings settings;
    settings.server_program = "false";
    return settings;
}

bool exists(pid_t pid) {
    return ::kill(pid, 0) == 0;
}

}  // namespace

TEST_CASE("the live bench comes up and obeys") {
    live_bench bench;
    CHECK(bench.jackd().runs());
    CHECK(bench.desk().runs());
    CHECK(bench.module().runs());
    CHECK(std::filesystem::is_character_file(bench.console()));
    CHECK(bench.ask_desk("fault hum@in_1:0.1") == "ok");
    CHECK(bench.ask_desk("clear") == "ok");
    CHECK(bench.ask_desk("cables 2:pitch,1:gate") == "ok");
    CHECK(bench.ask_desk("back none") == "ok");
    CHECK(bench.ask_desk("loop none") == "ok");
    CHECK(bench.ask_desk("freewheel on") == "ok");
    CHECK(bench.ask_desk("freewheel off") == "ok");
    CHECK_THAT(bench.ask_desk("fault nonsense:1"), Contains("no: There is no fault \"nonsense\""));
}

TEST_CASE("the live bench starts the module again with other arguments") {
    live_bench bench;
    const auto first = bench.module().pid();
    bench.restart_module({"unit=7"});
    CHECK(bench.module().pid() != first);
    CHECK_THAT(bench.module().out(), Contains("Ferrule,0007"));
    CHECK(std::filesystem::exists(bench.flash()));
}

TEST_CASE("any part of the live bench can be killed, and the others tell") {
    live_bench_settings settings;
    settings.waits_for_clients = false;
    live_bench bench{settings};
    SECTION("the module") {
        bench.module().send(SIGKILL);
        CHECK(becomes_true([&] { return !bench.module().runs(); }));
        CHECK(bench.module().status() == -SIGKILL);
        CHECK(bench.desk().runs());
        bench.restart_module({});
        CHECK(bench.module().runs());
    }
    SECTION("the interface") {
        bench.desk().send(SIGKILL);
        CHECK(becomes_true([&] { return !bench.desk().runs(); }));
        bench.restart_desk({});
        CHECK(bench.module().runs());
    }
    SECTION("the server") {
        bench.jackd().send(SIGKILL);
        CHECK(becomes_true([&] { return !bench.module().runs() && !bench.desk().runs(); }));
        CHECK(bench.module().status() == 1);
        CHECK(bench.desk().status() == 1);
    }
    SECTION("the server, after it stood still") {
        bench.jackd().send(SIGSTOP);
        CHECK(bench.jackd().runs());
    }
}

TEST_CASE("nothing of the live bench stays when a test throws") {
    pid_t jackd = 0;
    pid_t desk = 0;
    pid_t module = 0;
    std::filesystem::path folder;
    try {
        live_bench bench;
        jackd = bench.jackd().pid();
        desk = bench.desk().pid();
        module = bench.module().pid();
        folder = bench.folder();
        throw std::runtime_error("a test that fails");
    } catch (const std::runtime_error&) {
    }
    CHECK_FALSE(exists(jackd));
    CHECK_FALSE(exists(desk));
    CHECK_FALSE(exists(module));
    CHECK_FALSE(std::filesystem::exists(folder));
}

TEST_CASE("a live bench without a server says so") {
    CHECK_THROWS_WITH(live_bench{without_server()}, Contains("jackd ended at once"));
}

// A server that was killed keeps one of the machine's eight places until a namesake frees it.
TEST_CASE("servers that are killed do not use up the machine's places") {
    for (int i = 0; i < 9; ++i) {
        live_bench_settings settings;
        settings.with_module = false;
        live_bench bench{settings};
        bench.jackd().send(SIGKILL);
        REQUIRE(becomes_true([&] { return !bench.jackd().runs(); }));
    }
}
