// What is said of a fleet, for people and for machines.

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <sstream>

#include "rig/fleet/fleet.hpp"
#include "rig/report/fleet_html.hpp"
#include "rig/report/fleet_json.hpp"
#include "rig/report/fleet_story.hpp"
#include "rig/report/fleet_text.hpp"
#include "rig/report/text.hpp"
#include "tests/rig/fleet/synthetic.hpp"
#include "tests/rig/report/schema_check.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;
using nlohmann::json;

namespace {

/// Three builds of twelve units, one with a knee, some calibrated, and names that mean mischief.
fleet_answer everything() {
    std::mt19937_64 random{79};
    std::vector<tracking_record> records;
    for (int i = 1; i <= 12; ++i) {
        auto truth = normal_unit(random);
        if (i == 3) {
            truth.knee_volts = 2.0;
            truth.knee_cents_per_volt = 12.0;
        }
        circumstances c{.unit = std::to_string(i)};
        for (const char* build : {"1.0", "1.1 <b>", "1.2"}) {
            c.build = std::string{build};
            c.started = std::string{"2026-01-0"} + build[2] + "T00:00:00Z";
            c.in_force = constants_in_force::by_default;
            records.push_back(record_of_unit(truth, c, random));
            records.back().constants = pitch_constants{-0.05, 0.00125};
            if (build[2] == '1') truth.gain_cents_per_octave += 4.0;
        }
    }
    auto a = answer_fleet(records, {});
    a.unreadable = {"x.json is no tracking record: \x1b[31mred\xff."};
    return a;
}

fleet_answer of_units(const population& draw, int units) {
    std::mt19937_64 random{83};
    return answer_fleet(fleet_of(draw, units, random), {});
}

std::string all_of(const std::vector<std::string>& lines) {
    std::string text;
    for (const auto& line : lines) text += line + "\n";
    return text;
}

void check_width(const std::string& text, std::size_t most) {
    std::istringstream lines{text};
    for (std::string line; std::getline(lines, line);) {
        CAPTURE(line);
        CHECK(report::columns_of(line) <= most);
    }
}

}  // namespace

TEST_CASE("fleet report: the JSON follows its schema", "[fleet][report]") {
    for (const auto& a : {everything(), of_units(two_humped, 9), of_units(normal_unit, 2),
                          of_units(normal_unit, 1)})
        CHECK(schema_complaints(json::parse(fleet_json(a, "1.0"))).empty());
}

TEST_CASE("fleet report: the schema refuses what is foreign to it", "[fleet][report]") {
    auto document = json::parse(fleet_json(everything(), "1.0"));
    REQUIRE(schema_complaints(document).empty());
    auto other = document;
    other["colour"] = "red";
    CHECK_FALSE(schema_complaints(other).empty());
    other = document;
    other["odd_units"][0]["trait"] = "mood";
    CHECK_FALSE(schema_complaints(other).empty());
    other = document;
    other["defaults"][0].erase("kept");
    CHECK_FALSE(schema_complaints(other).empty());
}

TEST_CASE("fleet report: what is asked most is answered first, in words with numbers",
          "[fleet][report]") {
    const auto a = everything();
    const auto story = report::story_of(a);
    CHECK_THAT(story.title, Contains("Ferrule, build 1.2: 12 units"));
    CHECK_THAT(story.answers().at(0), Contains("With the default constants as they are"));
    const auto said = all_of(story.answers());
    CHECK_THAT(said, Contains("multiply both constants by"));
    CHECK_THAT(said, Contains("In numbers: offset"));
    CHECK_THAT(said, Contains("Unit 3 is odd in straightness") && Contains("knee"));
    CHECK_THAT(said, Contains("Of the scatter in gain,") && Contains(" is units ("));
    CHECK_THAT(said,
               Contains("Build 1.2 against 1.1 <b>: it moves 12 units under default constants") &&
                   Contains("users must calibrate again"));
    CHECK_THAT(
        said,
        Contains("Build 1.1 <b> against 1.0: none of 12 units under default constants moves"));
    CHECK_THAT(said, Contains("Of units that nobody has measured yet"));
}

TEST_CASE("fleet report: what a verdict on a build hangs on is said with it", "[fleet][report]") {
    std::mt19937_64 random{89};
    std::vector<tracking_record> records;
    for (int i = 1; i <= 6; ++i) {
        auto truth = normal_unit(random);
        circumstances c{
            .unit = std::to_string(i), .in_force = constants_in_force::own, .u_common_cents = 0.8};
        records.push_back(record_of_unit(truth, c, random));
        truth.offset_cents += 9.0;
        c.build = std::string{"1.1"};
        c.started = std::string{"2026-02-01T00:00:00Z"};
        c.bench = std::string{"other"};
        records.push_back(record_of_unit(truth, c, random));
    }
    CHECK_THAT(all_of(report::story_of(answer_fleet(records, {})).answers()),
               Contains("it moves 6 calibrated units by +9") &&
                   Contains("users must calibrate again. This holds if no calibration in between "
                            "went without a record. The benches themselves may differ by 2.3 cent, "
                            "which is allowed for."));
    records.back().occasion = "after calibration";
    const auto a = answer_fleet(records, {});
    CHECK_THAT(all_of(report::story_of(a).answers()),
               Contains("it moves 5 calibrated units") &&
                   Contains("Left out, since calibrated between the two with constants that no "
                            "console told: 6."));
    CHECK(schema_complaints(json::parse(fleet_json(a, "1.0"))).empty());
}

TEST_CASE("fleet report: no line of text is wider than the terminal or 100 columns",
          "[fleet][report]") {
    for (const int width : {60, 80, 100, 200}) {
        const terminal_style style{.colour = false, .width = width, .utf8 = true};
        check_width(fleet_text(everything(), style),
                    static_cast<std::size_t>(std::min(width, 100)));
        check_width(fleet_text(of_units(two_humped, 60), style),
                    static_cast<std::size_t>(std::min(width, 100)));
    }
}

TEST_CASE("fleet report: of many units the terminal shows some and says so", "[fleet][report]") {
    const auto text = fleet_text(of_units(two_humped, 60), {.width = 100});
    CHECK_THAT(text, Contains("20 more rows are in the HTML and JSON reports."));
    CHECK_THAT(fleet_page(of_units(two_humped, 60), "1.0", {}), Contains(">60</th>"));
}

TEST_CASE("fleet report: a plain terminal gets ASCII and no escapes", "[fleet][report]") {
    const auto text = fleet_text(everything(), {.colour = false, .width = 80, .utf8 = false});
    CHECK(std::ranges::all_of(text, [](char c) { return c == '\n' || (c >= ' ' && c <= '~'); }));
}

TEST_CASE("fleet report: the page stands alone and believes no name", "[fleet][report]") {
    const auto page = fleet_page(everything(), "1.0", built_in_assets());
    CHECK(page.find("<b>:") == std::string::npos);
    CHECK_THAT(page, Contains("1.1 &lt;b&gt;") && Contains("default-src 'none'"));
    for (const char* outside : {"src=\"http", "href=\"http", "@import"})
        CHECK(page.find(outside) == std::string::npos);
    // Every table has a caption, for who listens instead of looking.
    std::size_t tables = 0;
    std::size_t captions = 0;
    for (std::size_t at = 0; (at = page.find("<table", at)) != std::string::npos; ++at) ++tables;
    for (std::size_t at = 0; (at = page.find("<caption>", at)) != std::string::npos; ++at)
        ++captions;
    CHECK(tables >= 5);
    CHECK(captions == tables);
}

TEST_CASE("fleet report: a fleet of two humps is told to calibrate, by counting alone",
          "[fleet][report]") {
    const auto said = all_of(report::story_of(of_units(two_humped, 30)).answers());
    CHECK_THAT(said, Contains("every unit must be calibrated by itself"));
    CHECK_THAT(said, Contains("For unseen units only counting speaks. The units' errors at 4 V") &&
                         Contains("not normally distributed"));
}

TEST_CASE("fleet report: a fleet of good units is told that its default serves",
          "[fleet][report]") {
    const auto draw = [](std::mt19937_64& random) {
        std::normal_distribution<double> n{0.0, 0.2};
        return true_unit{.gain_cents_per_octave = n(random), .offset_cents = n(random)};
    };
    const auto said = all_of(report::story_of(of_units(draw, 40)).answers());
    CHECK_THAT(said, Contains("The default as it is serves, if it was chosen from none of these "
                              "units: with about 95 % confidence") &&
                         Contains("that it is the best of 3 is allowed for") &&
                         !Contains("it is sure"));
    // 40 of 40 are 90.3 % of all or more, if the best of three is claimed; 38 units are too few.
    CHECK_THAT(said, Contains("by counting, 90 % of all units"));
    CHECK_THAT(all_of(report::story_of(of_units(draw, 38)).answers()), !Contains("it is serves"));
    CHECK_THAT(said, Contains("about 95 % sure that 90 % of units lie within"));
}

TEST_CASE("fleet report: one unit says nothing and two say little", "[fleet][report]") {
    const auto one = of_units(normal_unit, 1);
    CHECK_FALSE(one.says_anything());
    CHECK_THAT(all_of(report::story_of(one).answers()), Contains("only one unit was measured"));
    const auto two = of_units(normal_unit, 2);
    CHECK(two.says_anything());
    const auto said = all_of(report::story_of(two).answers());
    CHECK_THAT(said, Contains("Among 2 units none can be called odd"));
    CHECK_THAT(said, Contains("Only build 1.0 was measured"));
    // Only of the default as it is, and only if it was chosen from neither of them.
    CHECK_THAT(said, Contains("within 5 cent: 1 % to 99 % with the default as it is (about 95 %") &&
                         Contains("this holds if it was chosen from none of these units"));
}

TEST_CASE("fleet report: shares never round to certainty", "[fleet][report]") {
    CHECK(report::per_cent(0.0) == "0 %");
    CHECK(report::per_cent(1.0) == "100 %");
    CHECK(report::per_cent(0.997) == "99.7 %");
    CHECK(report::per_cent(0.9999) == "over 99.9 %");
    CHECK(report::per_cent(0.0001) == "under 0.1 %");
    CHECK(report::per_cent(0.123) == "12 %");
    CHECK(report::signed_cents(-0.001) == "0 cent");
    CHECK(report::signed_cents(8.21) == "+8.2 cent");
    CHECK(report::plain_cents(0.034) == "0.03 cent");
}
