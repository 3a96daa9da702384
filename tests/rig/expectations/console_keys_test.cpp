#include <catch2/catch.hpp>
#include <filesystem>

#include "rig/bench/bench.hpp"
#include "rig/console/fill_in.hpp"
#include "rig/expectations/explain.hpp"
#include "rig/platform/files.hpp"
#include "tests/rig/expectations/files.hpp"

using namespace cvrig;
using way = console_settings::way;
namespace fs = std::filesystem;

namespace {

console_settings console_of(const std::string& section) {
    const scratch_file file{data_text("bench/complete.yaml") + "console: " + section + "\n"};
    const auto b = read_bench(file.path());
    REQUIRE(b.console.has_value());
    return *b.console;
}

/// A bench file in a folder of its own, beside which other files may lie.
console_settings console_in(const fs::path& folder, const std::string& section) {
    const auto file = folder / "desk.yaml";
    write_file_atomically(file, data_text("bench/complete.yaml") + "console: " + section + "\n");
    return *read_bench(file.string()).console;
}

std::string refusal(const console_settings& how, const std::map<std::string, std::string>& names) {
    try {
        static_cast<void>(filled_in(how, names));
    } catch (const user_error& e) {
        return e.complaints().front().sentence;
    }
    return {};
}

module_expectations with_console() {
    auto text = edited(data_text("expectations/complete.yaml"), "judging:",
                       "console:\n"
                       "  identity: {send: \"*IDN?\", expect: \".*,Ferrule,.*\"}\n"
                       "  serial number: {send: \"*IDN?\", expect: \"[^,]*,[^,]*,([^,]*),.*\"}\n"
                       "  no error: {send: \"SYSTem:ERRor?\", expect: '[+]?0,\"No error\"'}\n"
                       "  boot banner: \"Ferrule .* ready\"\n"
                       "  time limit: 0.5 s\n"
                       "  retries: 1\n"
                       "  unasked lines per second: 250\n"
                       "outputs one by one: {left: \"OUTPut:ROUTe LEFT\", right: \"OUTPut:ROUTe "
                       "RIGHT\", all: \"OUTPut:ROUTe BOTH\"}\n"
                       "judging:");
    return read_text(
        edited(text, "console: \"VOICe:MODE {value}\"",
               "console: \"VOICe:MODE {value}\", confirm: \"VOICe:MODE?\", prepared: struck"));
}

}  // namespace

TEST_CASE("console: every way to a module's console is read as it says", "[rig][bench][console]") {
    const auto serial = console_of("{serial: /dev/ttyACM0, baud: 9600, line end: CR LF}");
    CHECK(serial.how == way::serial_path);
    CHECK(serial.path == "/dev/ttyACM0");
    CHECK(serial.baud == 9600);
    CHECK(serial.line_end == "\r\n");
    CHECK(serial.where.line == 12);
    const auto usb = console_of("{usb: \"1209:00aF\", serial number: \"0007\", return time: 3 s}");
    CHECK(usb.how == way::usb);
    CHECK(usb.vendor_id == 0x1209);
    CHECK(usb.product_id == 0x00AF);
    CHECK(usb.serial_number == "0007");
    CHECK(usb.baud == 115200);
    CHECK(usb.return_time == seconds{3.0});
    const auto terminal = console_of("{terminal: /tmp/ferrule.tty, line end: CR}");
    CHECK(terminal.how == way::terminal);
    CHECK(terminal.line_end == "\r");
    const auto tcp = console_of("{tcp: \"[::1]:5025\"}");
    CHECK(tcp.how == way::tcp);
    CHECK(tcp.host == "::1");
    CHECK(tcp.port == 5025);
    CHECK(tcp.line_end == "\n");
    const auto program = console_of("{program: [ferrule, console]}");
    CHECK(program.how == way::program);
    CHECK(program.command == std::vector<std::string>{"ferrule", "console"});
}

TEST_CASE("console: names are filled in and paths are relative to the bench file",
          "[rig][bench][console]") {
    const temporary_folder folder;
    const auto at = [&](const std::string& section, std::map<std::string, std::string> names = {}) {
        return filled_in(console_in(folder.path(), section), names);
    };
    CHECK(at("{terminal: ferrule.tty}").path == (folder.path() / "ferrule.tty").string());
    CHECK(at("{serial: ports/module}").path == (folder.path() / "ports/module").string());
    CHECK(at("{serial: COM3}").path == "COM3");
    CHECK(at("{terminal: \"{console}\"}", {{"console", "/tmp/x.tty"}}).path == "/tmp/x.tty");
    CHECK(at("{terminal: \"{console}\"}", {{"console", "x.tty"}}).path == "x.tty");
    const auto tcp = at("{tcp: \"{host}:{port}\"}", {{"host", "desk"}, {"port", "5025"}});
    CHECK(tcp.host == "desk");
    CHECK(tcp.port == 5025);
    write_file_atomically(folder.path() / "unit.txt", "7");
    const auto program = at("{program: [sh, unit.txt, \"unit={unit}\"]}", {{"unit", "7"}});
    CHECK(fs::path{program.command.at(0)}.filename() == "sh");
    CHECK(program.command.at(1) == (folder.path() / "unit.txt").string());
    CHECK(program.command.at(2) == "unit=7");
}

TEST_CASE("console: what cannot be filled in is told", "[rig][bench][console]") {
    CHECK(refusal(console_of("{terminal: \"{console}\"}"), {}) ==
          "Nothing is known as {console}; say what it stands for, as in --with console=VALUE.");
    CHECK(refusal(console_of("{tcp: \"{console}\"}"), {{"console", "desk"}}) ==
          "'desk' is no host and port; write for example 'localhost:5025'.");
    CHECK(refusal(console_of("{program: [no-such-program-anywhere]}"), {}) ==
          "There is no program 'no-such-program-anywhere'; check its name, or give its path "
          "relative to the bench file.");
}

TEST_CASE("console: what an expectation file says of the console is read",
          "[rig][expectations][console]") {
    const auto m = with_console();
    REQUIRE(m.console.has_value());
    CHECK(m.console->identity->send == "*IDN?");
    CHECK(m.console->identity->expect == ".*,Ferrule,.*");
    CHECK(m.console->serial_number->expect == "[^,]*,[^,]*,([^,]*),.*");
    CHECK(m.console->no_error->expect == "[+]?0,\"No error\"");
    CHECK(m.console->boot_banner == "Ferrule .* ready");
    CHECK(m.console->time_limit == seconds{0.5});
    CHECK(m.console->retries == 1);
    CHECK(m.console->unasked_lines_per_second == 250.0);
    CHECK(m.settings.front().confirm == "VOICe:MODE?");
    CHECK(m.settings.front().prepared == "struck");
    REQUIRE(m.routes.has_value());
    CHECK(m.routes->only.at("left") == "OUTPut:ROUTe LEFT");
    CHECK(m.routes->all == "OUTPut:ROUTe BOTH");
}

TEST_CASE("console: a file that says nothing of a console has none",
          "[rig][expectations][console]") {
    const auto m = read_text(data_text("expectations/complete.yaml"));
    CHECK_FALSE(m.console.has_value());
    CHECK_FALSE(m.routes.has_value());
}

TEST_CASE("console: an expectation file's console is explained", "[rig][expectations][console]") {
    const auto text = explain(with_console(), test_checks());
    const std::string said =
        "On a bench with the module's console connected:\n"
        "At the start the rig asks '*IDN?' and wants a reply that matches '.*,Ferrule,.*'.\n"
        "To know which unit is on the bench it asks '*IDN?' and wants a reply that matches "
        "'[^,]*,[^,]*,([^,]*),.*'; the first group is the serial number.\n"
        "After each setting it asks 'SYSTem:ERRor?' and wants a reply that matches "
        "'[+]?0,\"No error\"'.\n"
        "A line that matches 'Ferrule .* ready' means that the module has restarted; during a run "
        "that fails the build.\n"
        "Where the console goes away in a run, or sends more than 250 lines in a second unasked, a "
        "restart may go unheard: then the run is unsure.\n"
        "A reply may take 500 ms; the question is put again once.\n"
        "Mode is set by the line 'VOICe:MODE {value}', and 'VOICe:MODE?' must then be answered "
        "with the value.\n"
        "To tell the output cables apart, the outputs sound one by one: left alone by "
        "'OUTPut:ROUTe LEFT' and right alone by 'OUTPut:ROUTe RIGHT'; 'OUTPut:ROUTe BOTH' lets all "
        "sound again.\n";
    CHECK(text.find(said) != std::string::npos);
}

TEST_CASE("console: a serial number that nothing captures is refused with its place",
          "[rig][expectations][console]") {
    const auto said = complaints_about_expectations(edited(
        data_text("expectations/complete.yaml"),
        "judging:", "console:\n  serial number: {send: \"*IDN?\", expect: \".*\"}\njudging:"));
    REQUIRE(said.size() == 1);
    CHECK(said[0].find("'expect' of 'serial number' needs a group") != std::string::npos);
}
