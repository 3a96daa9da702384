#include <catch2/catch.hpp>
#include <ctime>
#include <filesystem>

#include "rig/bench/bench.hpp"
#include "tests/rig/expectations/files.hpp"

using strings = std::vector<std::string>;

namespace {

const std::string no_anchors =
    "Anchors (&) and aliases (*) are not allowed; write the value out, or put it in quotes if it "
    "is a text.";

std::string repeated(const std::string& text, int times) {
    std::string out;
    for (int i = 0; i < times; ++i) out += text;
    return out;
}

/// The only sentence about a path, without the path.
std::string about_path(const std::string& path) {
    try {
        static_cast<void>(cvrig::read_expectations(path, test_checks()));
    } catch (const cvrig::user_error& e) {
        REQUIRE(e.complaints().size() == 1);
        CHECK(e.complaints().front().where.file == path);
        return e.complaints().front().sentence;
    }
    return "no complaint";
}

}  // namespace

TEST_CASE("hostile: what is no readable file gets one sentence", "[rig][expectations]") {
    CHECK(about_path("no-such-file.yaml") ==
          "There is no such file; check the name and the folder.");
    CHECK(about_path(std::filesystem::temp_directory_path().string()) ==
          "This is a folder; name a file in it.");
    CHECK(about_path("") == "There is no such file; check the name and the folder.");
}

TEST_CASE("hostile: a device is not read", "[rig][expectations]") {
    if (!std::filesystem::exists("/dev/zero")) return;
    CHECK(about_path("/dev/zero") ==
          "This is not an ordinary file; save its contents in one first.");
}

TEST_CASE("hostile: an empty file, and one with nothing but comments", "[rig][expectations]") {
    CHECK(complaints_about_expectations("") == strings{"This file is empty."});
    CHECK(complaints_about_expectations(" \n\n") == strings{"This file is empty."});
    const strings no_keys{
        "1:1: This file must be made of 'key: value' lines, beginning with 'format: ...'."};
    CHECK(complaints_about_expectations("# nothing\n") == no_keys);
    CHECK(complaints_about_expectations("just a text\n") == no_keys);
    CHECK(complaints_about_expectations("- a\n- b\n") == no_keys);
}

TEST_CASE("hostile: a file of 50 MB is refused by its size", "[rig][expectations]") {
    const std::string large(50U << 20U, 'x');
    CHECK(complaints_about_expectations(large) ==
          strings{"This file has 50.0 MiB, and 1 MiB is allowed; it is probably another kind of "
                  "file."});
}

TEST_CASE("hostile: bytes that are no text are named with their place", "[rig][expectations]") {
    using namespace std::string_literals;
    CHECK(complaints_about_expectations("format: cv\n\nmo\0dule"s) ==
          strings{"3:3: Byte 0x00 is no text; save the file as plain UTF-8 text."});
    CHECK(complaints_about_expectations("a: \x7F\x45LF\x02"s) ==
          strings{"1:4: Byte 0x7F is no text; save the file as plain UTF-8 text."});
    CHECK(complaints_about_expectations("a: Br\xFC"
                                        "cke\n"s) ==
          strings{"1:6: Byte 0xFC is not valid UTF-8; save the file as plain UTF-8 text."});
    CHECK(complaints_about_expectations("\xFF\xFE"
                                        "f\0o\0"s) ==
          strings{"1:1: Byte 0xFF is not valid UTF-8; save the file as plain UTF-8 text."});
    CHECK(complaints_about_expectations("a: 1\rb: 2\r"s) ==
          strings{"1:5: Byte 0x0D is no text; save the file as plain UTF-8 text."});
}

TEST_CASE("hostile: an alias that contains itself", "[rig][expectations]") {
    CHECK(complaints_about_expectations("format: &a [*a]\n") == strings{"1:9: " + no_anchors});
    CHECK(complaints_about_expectations("format: *a\n") == strings{"1:9: " + no_anchors});
    CHECK(complaints_about_expectations("&a format: *a\n") == strings{"1:1: " + no_anchors});
}

TEST_CASE("hostile: a billion laughs", "[rig][expectations]") {
    std::string text = "a0: &a0 [ha, ha, ha, ha, ha, ha, ha, ha, ha]\n";
    for (int i = 1; i < 10; ++i) {
        const auto nine = repeated("*a" + std::to_string(i - 1) + ", ", 9);
        const auto name = std::to_string(i);
        text.append("a").append(name).append(": &a").append(name);
        text.append(" [").append(nine).append("]\n");
    }
    CHECK(complaints_about_expectations(text) == strings{"1:5: " + no_anchors});
}

TEST_CASE("hostile: very deep nesting in every style", "[rig][expectations]") {
    const auto only = [&](const std::string& text, const std::string& said) {
        const auto all = complaints_about_expectations(text);
        REQUIRE(all.size() == 1);
        CHECK_THAT(all.front(), Catch::Matchers::EndsWith(said));
    };
    const std::string deep = "The nesting is too deep; these files need few levels.";
    only("a: " + repeated("{b: ", 200000), deep);
    only(repeated("- ", 400000) + "a", deep);
    std::string indented;
    for (std::size_t i = 0; i < 500; ++i) indented.append(i, ' ').append("a:\n");
    only(indented, deep);
    // The parser takes these for keys that are no text before it sees how deep they go.
    const std::string key = "A key must be a plain text; quote it if it is one.";
    only("a: " + repeated("[", 1000000), key);
    only(repeated("? ", 1000) + "a", key);
}

TEST_CASE("hostile: a long line of nested maps and lists is read", "[rig][expectations]") {
    std::string steps = "0 V to 1 V";
    for (int i = 0; i < 400; ++i) steps += ", 2 V to 1 V";
    CHECK(
        complaints_about_expectations(edited(data_text("expectations/complete.yaml"),
                                             "[0 V to 1 V, 2 V to 1 V, 1 V to 1.0833 V]",
                                             "{tied: [" + steps + "], otherwise: [" + steps + "]}"))
            .empty());
}

TEST_CASE("hostile: hundreds of thousands of wrong keys are answered at once",
          "[rig][expectations]") {
    std::string text = "format: cvrig expectations 1\n";
    for (int i = 0; text.size() < 1000000; ++i) text += "key" + std::to_string(i) + ": 1\n";
    const auto start = std::clock();  // processor time, whatever else the machine does
    const auto all = complaints_about_expectations(text);
    const double seconds = static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC;
    REQUIRE(all.size() == 101);
    CHECK_THAT(all.back(), Catch::Matchers::EndsWith("more complaints are not shown."));
    // A release build takes well under a second; sanitizers take many times longer.
    CHECK(seconds < 20.0);
}

TEST_CASE("hostile: settings with too many combinations are refused", "[rig][expectations]") {
    std::string settings;
    for (int i = 0; i < 40; ++i) {
        settings += "  s" + std::to_string(i) + ": {values: [a" + std::to_string(i) + ", b" +
                    std::to_string(i) + "]}\n";
    }
    const auto text =
        edited(data_text("expectations/complete.yaml"), "judging:", settings + "judging:");
    const auto all = complaints_about_expectations(text);
    REQUIRE(all.size() == 3);
    CHECK(all.front() ==
          "68:3: These settings have more than 1000 combinations; name fewer values in 'in'.");
}

TEST_CASE("hostile: a byte order mark and Windows line ends are read", "[rig][expectations]") {
    auto text = data_text("expectations/complete.yaml");
    std::string windows = "\xEF\xBB\xBF";
    for (const char c : text) windows += c == '\n' ? std::string{"\r\n"} : std::string(1, c);
    CHECK(complaints_about_expectations(windows).empty());
    CHECK(complaints_about_expectations(edited(windows, "within 5 cent", "5 Hz")) ==
          strings{"19:12: '5 Hz' is a frequency, but 'error' wants an interval in cents, such as "
                  "'within 5 cent'."});
}

TEST_CASE("hostile: columns count characters, not bytes", "[rig][expectations]") {
    CHECK(complaints_about_expectations(
              edited(data_text("expectations/complete.yaml"), "in: {mode: [tied, wide]}",
                     "in: {mode: [tied, wide], \"µµµ\": [x], mod: [y]}")) ==
          strings{"23:30: 'µµµ' is not a setting (one of: mode, slide knob).",
                  "23:42: 'mod' is not a setting (one of: mode, slide knob); did you mean "
                  "'mode'?"});
}

TEST_CASE("hostile: all that is wrong with a file is said in one go, in its order",
          "[rig][expectations]") {
    auto text = edited(data_text("expectations/complete.yaml"), "module: Ferrule\n", "");
    text = edited(text, "within 0.3 %", "within 0.3");
    text = edited(text, "  gate: ", "  gat: [x]\n  gate: ");
    text = edited(text, "shape: exponential in volts", "shape: round");
    text = edited(text, "between 2 dB and 6 dB", "between 8 dB and 6 dB");
    CHECK(complaints_about_expectations(text) ==
          strings{"1:1: An expectation file needs the key 'module'.",
                  "5:8: Jack 'gat' must be a map of keys (from, to and rest), and here is a list.",
                  "20:12: '0.3' has no unit, but 'scale' wants a percentage, such as 'within 0.3 "
                  "%'.",
                  "26:12: 'round' is not an answer to 'shape' (one of: exponential in volts, "
                  "linear in volts).",
                  "33:26: 'between 8 dB and 6 dB' leaves nothing to meet: the first value must be "
                  "below the second."});
}
