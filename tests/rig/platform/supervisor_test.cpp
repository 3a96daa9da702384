#include "rig/platform/supervisor.hpp"

#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <array>
#include <catch2/catch.hpp>
#include <cstdlib>
#include <cstring>
#include <string>

#include "rig/platform/files.hpp"

TEST_CASE("a service manager is told by a datagram to the socket that it names",
          "[platform][supervisor]") {
    // sd_notify(3): AF_UNIX, SOCK_DGRAM, the path in NOTIFY_SOCKET, lines of NAME=VALUE.
    const cvrig::temporary_folder folder;
    const auto path = (folder.path() / "notify").string();
    sockaddr_un here{};
    here.sun_family = AF_UNIX;
    REQUIRE(path.size() < sizeof here.sun_path);
    std::memcpy(here.sun_path, path.c_str(), path.size() + 1);
    const int listener = ::socket(AF_UNIX, SOCK_DGRAM, 0);
    REQUIRE(::bind(listener, reinterpret_cast<const sockaddr*>(&here), sizeof here) == 0);
    ::setenv("NOTIFY_SOCKET", path.c_str(), 1);
    cvrig::tell_supervisor("READY=1");
    ::unsetenv("NOTIFY_SOCKET");
    std::array<char, 100> bytes{};
    const auto n = ::recv(listener, bytes.data(), bytes.size(), MSG_DONTWAIT);
    ::close(listener);
    REQUIRE(n > 0);
    CHECK(std::string(bytes.data(), static_cast<std::size_t>(n)) == "READY=1");
}

TEST_CASE("without a service manager nothing is told", "[platform][supervisor]") {
    ::unsetenv("NOTIFY_SOCKET");
    CHECK_NOTHROW(cvrig::tell_supervisor("READY=1"));
}
