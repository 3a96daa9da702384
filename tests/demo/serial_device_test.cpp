#include "demo/platform/console_port.hpp"
#include "demo/platform/pseudo_terminal.hpp"

#include <catch2/catch.hpp>
#include <filesystem>
#include <string>

#include "rig/platform/files.hpp"

using Catch::Matchers::Contains;

namespace {

/// What a port gives within some turns; one that is away tries again every few turns.
std::string read_for_a_while(ferrule::console_port& port) {
    std::string arrived;
    for (int turn = 0; turn < 50; ++turn) arrived += port.read();
    return arrived;
}

}  // namespace

// A pseudo-terminal stands for the device: when its other end closes, the device reports its end
// of file, as the module's end of a USB serial gadget does when the cable is pulled.
TEST_CASE("a serial console is opened again after its cable was pulled") {
    const cvrig::temporary_folder folder;
    const auto device = (folder.path() / "ttyGS0").string();
    auto cable = ferrule::open_console_port("pty:" + device);
    const auto console = ferrule::open_console_port("serial:" + device);

    console->write("ready\n");
    CHECK(read_for_a_while(*cable) == "ready\n");
    cable->write("*IDN?\n");
    CHECK(read_for_a_while(*console) == "*IDN?\n");

    SECTION("and the device stays away") {
        cable.reset();
        CHECK_FALSE(std::filesystem::exists(device));
        CHECK(read_for_a_while(*console).empty());
        CHECK(console->number() < 0);
        console->write("into the void\n");
        cable = ferrule::open_console_port("pty:" + device);
    }
    SECTION("and is put back at once") {
        cable = ferrule::open_console_port("pty:" + device);
    }
    CHECK(read_for_a_while(*console).empty());
    REQUIRE(console->number() >= 0);
    console->write("here again\n");
    CHECK(read_for_a_while(*cable) == "here again\n");
    cable->write("*OPC?\n");
    CHECK(read_for_a_while(*console) == "*OPC?\n");
}

TEST_CASE("a serial console that nobody reads never makes the module wait") {
    const cvrig::temporary_folder folder;
    const auto device = (folder.path() / "ttyGS0").string();
    const auto cable = ferrule::open_console_port("pty:" + device);
    const auto console = ferrule::open_console_port("serial:" + device);
    const std::string line(1000, 'x');
    for (int i = 0; i < 1000; ++i) console->write(line);
    // More than the system's own buffer is kept, and no more than a small memory holds.
    CHECK(console->waiting_bytes() > 1000);
    CHECK(console->waiting_bytes() <= 65536);
    CHECK_FALSE(read_for_a_while(*cable).empty());
}

TEST_CASE("a serial console without a device is refused in one sentence") {
    CHECK_THROWS_WITH(ferrule::open_console_port("serial:/dev/no-such-device"),
                      Contains("There is no device /dev/no-such-device for the console."));
}
