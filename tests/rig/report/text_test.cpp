#include <catch2/catch.hpp>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <sstream>

#include "../sample_result.hpp"
#include "rig/report/html.hpp"
#include "rig/report/json.hpp"
#include "rig/report/phrases.hpp"
#include "rig/report/progress.hpp"
#include "rig/report/terminal.hpp"
#include "rig/report/text.hpp"

using namespace cvrig;
using namespace cvrig::report;

namespace {

std::vector<std::string> lines_of(const std::string& text) {
    std::istringstream in{text};
    std::vector<std::string> all;
    for (std::string line; std::getline(in, line);) all.push_back(line);
    return all;
}

}  // namespace

TEST_CASE("foreign text loses controls, escapes and broken bytes", "[report]") {
    CHECK(one_line("a\x1b[31mb\x1b[0m\x07 c\n\td ") == "ab c d");
    CHECK(printable("x\xff") == "x\xEF\xBF\xBD");  // U+FFFD
    CHECK(printable("abc\u202Edef") == "abcdef");
    CHECK(printable("line\nline") == "line\nline");
    CHECK(printable("\xEF\xBF\xBE").empty());  // U+FFFE is no XML character
}

TEST_CASE("wrapping keeps to the width and loses no word", "[report]") {
    const std::string text = "an unbelievablylongword and ± some µ more of it";
    for (std::size_t width = 1; width < 50; ++width) {
        std::string joined;
        for (const auto& line : wrapped(text, width)) {
            CHECK(columns_of(line) <= width);
            joined += line;
        }
        joined.erase(std::remove(joined.begin(), joined.end(), ' '), joined.end());
        CHECK(joined == "anunbelievablylongwordand±someµmoreofit");
    }
}

TEST_CASE("the terminal report keeps to its width", "[report]") {
    const auto run = testing::sample_result();
    for (const int width : {60, 80, 132}) {
        for (const bool utf8 : {true, false}) {
            for (const auto& line : lines_of(terminal_table(run, {false, width, utf8}))) {
                INFO(line);
                CHECK(columns_of(line) <= static_cast<std::size_t>(width));
            }
        }
    }
}

TEST_CASE("a terminal without UTF-8 gets ASCII only", "[report]") {
    for (const char c : terminal_table(testing::sample_result(), {false, 80, false})) {
        CHECK_FALSE(static_cast<unsigned char>(c) >= 0x80);
    }
}

TEST_CASE("without colour no control character reaches the terminal", "[report]") {
    for (const char c : terminal_table(testing::sample_result(), {false, 80, true})) {
        CHECK((c == '\n' || static_cast<unsigned char>(c) >= 0x20));
    }
}

TEST_CASE("colours are all switched off again", "[report]") {
    for (const auto& line : lines_of(terminal_table(testing::sample_result(), {true, 80, true}))) {
        const auto last = line.rfind('\x1b');
        if (last != std::string::npos) CHECK(line.substr(last, 4) == "\x1b[0m");
    }
}

TEST_CASE("odds are never rounded to certainty", "[report]") {
    CHECK(odds_text(1.0) == "100 %");
    CHECK(odds_text(0.99999) == "above 99.9 %");
    CHECK(odds_text(0.00001) == "below 0.1 %");
    CHECK(odds_text(0.971) == "97.1 %");
}

TEST_CASE("who judged nothing has not passed", "[report]") {
    CHECK(run_result{}.outcome() == verdict::skipped);
    CHECK(check_result{}.outcome() == verdict::skipped);
    CHECK(worse(verdict::unsure, verdict::skipped) == verdict::unsure);
    CHECK(worse(verdict::fail, verdict::unsure) == verdict::fail);
    CHECK(worse(verdict::pass, verdict::skipped) == verdict::skipped);
}

TEST_CASE("a progress line leaves nothing behind", "[report]") {
    std::ostringstream out;
    {
        progress_line line{out, {false, 80, true}, true};
        line.show({3, 9, seconds{61.0}, seconds{90.0}, "tracking, mode tied \x1b[2J"});
        CHECK(out.str().find("3/9  1:01 min left  tracking, mode tied") != std::string::npos);
        CHECK(out.str().find("[2J") == std::string::npos);
        CHECK(out.str().find('\n') == std::string::npos);
    }
    // ECMA-48, 8.3.41 (EL): erase to the end of the line.
    CHECK(out.str().ends_with("\r\x1b[K"));
}

TEST_CASE("a progress line writes nothing where there is no terminal", "[report]") {
    std::ostringstream out;
    {
        progress_line line{out, {true, 80, true}, false};
        line.show({1, 2, seconds{1.0}, seconds{2.0}, "level"});
    }
    CHECK(out.str().empty());
}

TEST_CASE("a long reason is told once in a row of findings, and again behind a passing one",
          "[report]") {
    finding doubted;
    doubted.outcome = verdict::unsure;
    doubted.reason =
        "The bench is not proven: only half the voltage arrives from output 7 to input 3.";
    finding passed;
    passed.outcome = verdict::pass;
    report::explainer why;
    CHECK(why.of(doubted) == std::vector{doubted.reason});
    CHECK(why.of(doubted) == std::vector<std::string>{"As above."});
    CHECK(why.of(passed).empty());
    CHECK(why.of(doubted) == std::vector{doubted.reason});
    doubted.reason = "Silent.";
    CHECK(why.of(doubted) == std::vector<std::string>{"Silent."});
    CHECK(why.of(doubted) == std::vector<std::string>{"Silent."});
}

TEST_CASE("a note reaches every report with its finding", "[report]") {
    const std::string note = "Block 7 on holds content that is not for the main flash.";
    finding f;
    f.check = "image";
    f.name = "file";
    f.outcome = verdict::pass;
    f.notes = {note};
    check_result image;
    image.check = "image";
    image.findings = {f};
    run_result run;
    run.expectations_file = "thing.yaml";
    run.checks = {image};
    CHECK_THAT(terminal_table(run, {.colour = false, .width = 100, .utf8 = true}),
               Catch::Matchers::Contains("Note: " + note));
    CHECK_THAT(html_report(run, {}), Catch::Matchers::Contains("Note: " + note));
    const auto json = nlohmann::json::parse(json_report(run));
    CHECK(json.at("checks").at(0).at("findings").at(0).at("notes").at(0) == note);
}

TEST_CASE("an unproven bench comes first in what to do, and nothing else if nothing was judged",
          "[report]") {
    run_result run;
    run.expectations_file = "m.yaml";
    finding f;
    f.outcome = verdict::unsure;
    f.reason = "The cable is out.";
    check_result proof;
    proof.findings = {f};
    run.bench.proofs = {proof};
    check_result level;
    level.check = "level";
    level.findings = {f};
    run.checks = {level};
    CHECK(report::next_steps(run) ==
          std::vector<std::string>{"The cable is out.",
                                   "Run again: nothing is judged on a bench that is not proven."});
}
