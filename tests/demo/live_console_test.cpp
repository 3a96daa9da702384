#include "console_client.hpp"
#include "tests/support/live_bench.hpp"

#include <array>
#include <catch2/catch.hpp>
#include <csignal>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <utility>

using Catch::Matchers::Contains;
using cvrig::test_support::becomes_true;
using cvrig::test_support::live_bench;
using cvrig::test_support::live_bench_settings;
using live::console_client;
using std::chrono_literals::operator""ms;

// Messages: IEEE Std 488.2-1992 and SCPI-99, as in instrument_test.cpp; the subtrees VOICe, KNOB
// and those after them are Ferrule's own.

namespace {

live_bench_settings with(const std::vector<std::string>& arguments) {
    live_bench_settings settings;
    settings.module_arguments = arguments;
    return settings;
}

std::string no_error(console_client& console) {
    return console.ask("SYST:ERR?");
}

std::string text_of(const std::filesystem::path& path) {
    std::ifstream file{path};
    return {std::istreambuf_iterator<char>{file}, {}};
}

/// The console as soon as there is one at this address.
void wait_for_console(const std::string& address) {
    REQUIRE(becomes_true([&] {
        try {
            const console_client probe{address};
            return true;
        } catch (const std::runtime_error&) {
            return false;
        }
    }));
}

}  // namespace

TEST_CASE("the console knows every message of Ferrule", "[live]") {
    const live_bench bench{
        with({"unit=7", std::string{"image="} + FERRULE_BUILDS + "/good.ferrule"})};
    console_client console{bench.console()};
    CHECK(console.ask("*IDN?") == "cvrig demo,Ferrule,0007,1.4.0");
    CHECK(console.ask("*TST?") == "0");
    const std::array<std::pair<const char*, const char*>, 14> dialogue{{
        {"VOIC:MODE struck;MODE?", "STR"},
        {":voice:mode WIDE;:VOICe:MODE?", "WIDE"},
        {"VOIC:MODE tied;MODE?;WAVE?", "TIED;SAW"},
        {"VOIC:WAVE blend;WAVE?", "BLEN"},
        {"VOIC:WAVE SQUARE;WAVE?", "SQU"},
        {"KNOB:CUT 0.25;CUT?", "0.25"},
        {"KNOB:RES UP;RES?", "1"},
        {"KNOB:DEC DOWN;DEC?", "0"},
        {"KNOB:SLID 1e-1;SLID?", "0.1"},
        {"OUTP:ROUT left;ROUT?", "LEFT"},
        {"OUTPut:ROUTe RIGHT;ROUTe?", "RIGH"},
        {"*RST;:VOIC:MODE?;WAVE?;:KNOB:CUT?;:OUTP:ROUT?", "TIED;SAW;0.5;BOTH"},
        {"CAL:REST;*OPC?", "1"},
        {"SYST:VERS?", "1999.0"},
    }};
    for (const auto& [line, answer] : dialogue) {
        CAPTURE(line);
        CHECK(console.ask(line) == answer);
        CHECK(no_error(console) == "0,\"No error\"");
    }
    CHECK(std::stod(console.ask("SYST:LOAD?")) >= 0.0);
    CHECK(std::stoi(console.ask("SYST:MEM?")) > 0);
}

TEST_CASE("the console says what is wrong with a command", "[live]") {
    const live_bench bench;
    console_client console{bench.console()};
    const std::array<std::pair<const char*, const char*>, 9> mistakes{{
        {"VOICE:MOOD tied", "-113,\"Undefined header\""},
        {"VOIC:MODE loose", "-224,\"Illegal parameter value"},
        {"VOIC:MODE", "-109,\"Missing parameter\""},
        {"VOIC:MODE tied,wide", "-108,\"Parameter not allowed\""},
        {"KNOB:CUT 1.5", "-222,\"Data out of range"},
        {"OUTP:ROUT centre", "-224,\"Illegal parameter value"},
        {"CAL:POIN 4", "-222,\"Data out of range"},
        {"CAL:STOR", "-221,\"Settings conflict"},
        {"DIAG:FAUL \"wobble:1\"", "-224,\"Illegal parameter value"},
    }};
    for (const auto& [line, error] : mistakes) {
        CAPTURE(line);
        console.send(line);
        CHECK_THAT(no_error(console), Catch::StartsWith(error));
        CHECK(no_error(console) == "0,\"No error\"");
    }
    for (int i = 0; i < 40; ++i) console.send("NONSENSE");
    CHECK(console.ask("SYST:ERR:COUN?") == "16");
    for (int i = 0; i < 15; ++i) CHECK(no_error(console) == "-113,\"Undefined header\"");
    CHECK(no_error(console) == "-350,\"Queue overflow\"");
}

TEST_CASE("a terminal survives whoever opens and leaves it", "[live]") {
    const live_bench bench;
    for (int i = 0; i < 5; ++i) {
        // Once the module has seen the last one go, the next does not find what that did not read.
        CHECK(becomes_true([&] {
            console_client console{bench.console()};
            return console.ask("*OPC?") == "1";
        }));
        console_client console{bench.console()};
        console.send("*IDN?");
    }
}

TEST_CASE("a console that nobody reads does not stop the module", "[live]") {
    live_bench bench;
    {
        console_client deaf{bench.console()};
        for (int i = 0; i < 400; ++i) deaf.send("*IDN?;*IDN?;*IDN?;*IDN?;*IDN?;*IDN?");
        bench.tell_desk("fault hum@in_1:0.1");
    }
    console_client console{bench.console()};
    CHECK(becomes_true([&] { return console.ask("*OPC?") == "1"; }));
}

TEST_CASE("a TCP console serves one client and then the next", "[live]") {
    live_bench_settings settings;
    settings.console_over_tcp = true;
    const live_bench bench{settings};
    auto first = std::make_unique<console_client>(bench.console());
    CHECK(first->ask("*OPC?") == "1");
    console_client second{bench.console()};
    second.send("*TST?");
    CHECK_FALSE(second.receive(100ms).has_value());
    first.reset();
    CHECK(second.receive() == "0");
}

TEST_CASE("what was set is in the flash at once and there after a restart", "[live]") {
    live_bench bench{with({"unit=5"})};
    {
        console_client console{bench.console()};
        CHECK(console.ask("VOIC:MODE wide;:KNOB:CUT 0.75;*OPC?") == "1");
        CHECK_THAT(text_of(bench.flash()), Contains("mode=wide") && Contains("cutoff knob=0.75"));
        bench.module().send(SIGKILL);
    }
    bench.restart_module({"unit=5"});
    console_client console{bench.console()};
    CHECK(console.ask("VOIC:MODE?;:KNOB:CUT?") == "WIDE;0.75");
}

TEST_CASE("a reboot says its banner and clears the registers", "[live]") {
    const live_bench bench;
    console_client console{bench.console()};
    console.send("VOIC:MODE struck");
    console.send("NONSENSE;*ESE 255");
    console.send("SYST:REB");
    CHECK(console.receive() == "Ferrule 0.0.0-host ready");
    CHECK(console.ask("*ESE?;:SYST:ERR?;:VOIC:MODE?") == "0;0,\"No error\";STR");
}

TEST_CASE("a new image is there after flash mode, under another name", "[live]") {
    live_bench bench;
    const auto image = bench.folder() / "image.ferrule";
    std::ofstream{image} << "ferrule image 1\nversion: 2.0.0\n";
    bench.restart_module({"image=" + image.string()});
    const auto other = bench.folder() / "other";
    console_client console{bench.console()};
    CHECK_THAT(console.ask("*IDN?"), Contains(",2.0.0"));
    std::ofstream{image} << "ferrule image 1\nversion: 2.0.1\n";
    console.send("SYST:FLAS 0.1,\"" + other.string() + "\"");
    CHECK_FALSE(console.receive().has_value());
    CHECK(console.is_hung_up());
    CHECK(becomes_true([&] { return std::filesystem::exists(other); }));
    CHECK_FALSE(std::filesystem::is_symlink(bench.console()));
    console_client back{other.string()};
    back.send("*IDN?");
    // Whoever is early sees the banner, too.
    auto answer = back.receive().value_or("");
    if (answer == "Ferrule 2.0.1 ready") answer = back.receive().value_or("");
    CHECK_THAT(answer, Contains(",2.0.1"));
}

TEST_CASE("faults of the console come from arguments and from lines", "[live]") {
    live_bench bench;
    SECTION("it falls silent after some lines") {
        console_client console{bench.console()};
        CHECK(console.ask("DIAG:MUTE 2;*OPC?") == "1");
        CHECK(console.ask("*OPC?") == "1");
        console.send("*OPC?");
        CHECK_FALSE(console.receive(100ms).has_value());
        console.send("SYST:REB");
        CHECK(console.receive() == "Ferrule 0.0.0-host ready");
        CHECK(console.ask("*OPC?") == "1");
    }
    SECTION("from switching on") {
        bench.restart_module({"mute-after=1"});
        console_client console{bench.console()};
        CHECK(console.ask("*OPC?") == "1");
        console.send("*OPC?");
        CHECK_FALSE(console.receive(100ms).has_value());
    }
    SECTION("it babbles, and still hears") {
        bench.restart_module({"babble=1"});
        console_client console{bench.console()};
        for (int i = 0; i < 1000; ++i) CHECK_THAT(console.ask("*WAI"), Contains("dbg: loop"));
        console.send("DIAG:BABB OFF");
        console.send("SYST:VERS?");
        CHECK(becomes_true([&] { return console.receive(1000ms) == "1999.0"; }));
    }
    SECTION("it resets itself, again and again") {
        bench.restart_module({"reset-after=0.2"});
        console_client console{bench.console()};
        CHECK(console.receive() == "Ferrule 0.0.0-host ready");
        CHECK(console.receive() == "Ferrule 0.0.0-host ready");
    }
    SECTION("it resets itself once") {
        console_client console{bench.console()};
        console.send("DIAG:RES 0.1");
        CHECK(console.receive() == "Ferrule 0.0.0-host ready");
        CHECK_FALSE(console.receive(300ms).has_value());
    }
    SECTION("its plug is pulled, and put back under another name") {
        const auto other = (bench.folder() / "elsewhere").string();
        bench.restart_module({"gone-after=0.2", "gone-seconds=0.1", "gone-name=" + other});
        console_client console{bench.console()};
        CHECK_FALSE(console.receive().has_value());
        CHECK(console.is_hung_up());
        wait_for_console(other);
        console_client back{other};
        CHECK(back.ask("*OPC?") == "1");
    }
}

TEST_CASE("a live module ends in order, and with a sentence when the server dies", "[live]") {
    live_bench bench;
    SECTION("a signal") {
        bench.module().send(SIGTERM);
        REQUIRE(becomes_true([&] { return !bench.module().runs(); }));
        CHECK(bench.module().status() == 0);
        CHECK_FALSE(std::filesystem::is_symlink(bench.folder() / "console"));
    }
    SECTION("the server") {
        bench.jackd().send(SIGKILL);
        REQUIRE(becomes_true([&] { return !bench.module().runs() && !bench.desk().runs(); }));
        CHECK(bench.module().status() == 1);
        CHECK_THAT(bench.module().all(), Contains("has ended, and the module with it."));
        CHECK(bench.desk().status() == 1);
        CHECK_THAT(bench.desk().all(), Contains("has ended, and the interface with it."));
    }
}
