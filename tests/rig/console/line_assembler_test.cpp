#include "rig/console/line_assembler.hpp"

#include <rapidcheck.h>
#include <utf8.h>
#include <catch2/catch.hpp>

using namespace cvrig;

namespace {

std::vector<std::string> lines_of(std::string_view bytes, const std::vector<std::size_t>& cuts) {
    line_assembler lines;
    std::vector<std::string> out;
    const auto add = [&](std::string_view part) {
        for (auto& line : lines.add(part)) out.push_back(std::move(line));
    };
    for (const auto cut : cuts) {
        const auto n = std::min(cut, bytes.size());
        add(bytes.substr(0, n));
        bytes.remove_prefix(n);
    }
    add(bytes);
    if (auto last = lines.finish(); !last.empty()) out.push_back(std::move(last));
    return out;
}

/// The bytes that a line spells out.
std::string as_it_came(const std::string& line) {
    std::string bytes;
    for (std::size_t i = 0; i < line.size(); ++i) {
        if (line.compare(i, 2, "\\x") == 0) {
            bytes += static_cast<char>(std::stoi(line.substr(i + 2, 2), nullptr, 16));
            i += 3;
        } else {
            bytes += line[i];
        }
    }
    return bytes;
}

/// Bytes as consoles send them: mostly text and line ends, sometimes anything.
rc::Gen<std::string> console_bytes() {
    return rc::gen::container<std::string>(
        rc::gen::weightedOneOf<char>({{6, rc::gen::inRange('a', 'z')},
                                      {3, rc::gen::element('\n', '\r', '\0', '\\', 'x', '\x1b')},
                                      {1, rc::gen::arbitrary<char>()}}));
}

}  // namespace

TEST_CASE("LF, CR and CR LF each end a line, and empty lines are left out", "[console][lines]") {
    using list = std::vector<std::string>;
    CHECK(lines_of("a\nb\rc\r\nd", {}) == list{"a", "b", "c", "d"});
    CHECK(lines_of("\n\r\r\na\n\n\nb\n", {}) == list{"a", "b"});
    CHECK(lines_of("a\r\nb\r\n", {2}) == list{"a", "b"});  // CR and LF in two pieces
}

TEST_CASE("what is no printable UTF-8 is spelled out", "[console][lines]") {
    CHECK(spelled_out(std::string{"a\0b", 3}) == "a\\x00b");
    CHECK(spelled_out("\x1b[31mred") == "\\x1b[31mred");
    CHECK(spelled_out("\xff\xc3\xa4\xc3") == "\\xff\xc3\xa4\\xc3");
    CHECK(spelled_out("\xc2\x9b"
                      "2J") == "\\xc2\\x9b2J");  // a control character of ISO 8859-1
    CHECK(spelled_out("tab\there \\ \\x41") == "tab\there \\ \\x5cx41");
}

TEST_CASE("noise around a line does not hide it", "[console][lines]") {
    CHECK(bare_text("\\x00\\xff  Ferrule 1.4 ready \\x00") == "Ferrule 1.4 ready");
    CHECK(bare_text("\\x00 ").empty());
    CHECK(bare_text("a\\x00b") == "a\\x00b");
}

TEST_CASE("a line without end keeps its beginning and says what was cut", "[console][lines]") {
    line_assembler lines;
    const std::string block(100'000, 'a');
    for (int i = 0; i < 50; ++i) CHECK(lines.add(block).empty());
    const auto all = lines.add("\nnext\n");
    REQUIRE(all.size() == 2);
    CHECK(all[0] == std::string(line_assembler::longest, 'a') + " [and 4995904 more bytes]");
    CHECK(all[1] == "next");
}

TEST_CASE("lines do not depend on the pieces in which bytes arrive", "[console][lines]") {
    CHECK(rc::check([] {
        const auto bytes = *console_bytes();
        const auto cuts =
            *rc::gen::container<std::vector<std::size_t>>(rc::gen::inRange<std::size_t>(0, 8));
        RC_ASSERT(lines_of(bytes, cuts) == lines_of(bytes, {}));
    }));
}

TEST_CASE("every line is printable, and no byte is lost or made up", "[console][lines]") {
    CHECK(rc::check([] {
        const auto bytes = *console_bytes();
        std::string back;
        for (const auto& line : lines_of(bytes, {})) {
            RC_ASSERT(utf8::is_valid(line.begin(), line.end()));
            for (const char c : line) RC_ASSERT(static_cast<unsigned char>(c) >= 0x20 || c == '\t');
            back += as_it_came(line);
        }
        auto without_ends = bytes;
        std::erase_if(without_ends, [](char c) { return c == '\n' || c == '\r'; });
        RC_ASSERT(back == without_ends);
    }));
}
