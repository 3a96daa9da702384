#include <catch2/catch.hpp>

#include "tests/rig/expectations/files.hpp"

using namespace cvrig;
using Catch::Matchers::WithinAbs;

namespace {

const check_expectation& check_named(const module_expectations& m, std::string_view name) {
    for (const auto& c : m.checks) {
        if (c.name == name) return c;
    }
    throw std::runtime_error{"no such check"};
}

setting_choice in_mode(const std::string& mode) {
    return {{"mode", mode}, {"slide knob", "down"}};
}

}  // namespace

TEST_CASE("expectations: a complete file is read as it says", "[rig][expectations]") {
    const auto m = read_text(data_text("expectations/complete.yaml"));
    CHECK(m.module == "Ferrule");
    CHECK(m.coverage_factor == 2.0);
    CHECK(m.retakes == 2);
    CHECK(m.listen == std::vector<std::string>{"left", "right"});
    CHECK(m.listen_where.line == 10);
    REQUIRE(m.drive.size() == 5);
    CHECK(m.drive[0].name == "pitch");
    CHECK_FALSE(m.drive[0].is_gate);
    CHECK(m.drive[0].high == volts{4.0});
    CHECK(m.drive[0].rest == volts{0.0});
    CHECK(m.drive[1].is_gate);
    CHECK(m.drive[1].high == volts{5.0});
    CHECK(m.drive[1].rest == volts{0.0});
    CHECK(m.drive[4].rest == volts{5.0});
    REQUIRE(m.settings.size() == 2);
    CHECK(m.settings[0].console == "VOICe:MODE {value}");
    CHECK(m.settings[0].operator_instruction == "Set the lower switch to {value}");
    CHECK_FALSE(m.settings[1].console);
    REQUIRE(m.checks.size() == 5);
    CHECK(m.checks[1].where.line == 22);
    CHECK(m.checks[1].where.column == 3);
}

TEST_CASE("expectations: a check plays every combination that 'in' names, in file order",
          "[rig][expectations]") {
    const auto m = read_text(data_text("expectations/complete.yaml"));
    CHECK(check_named(m, "slide").in ==
          std::vector<setting_choice>{in_mode("tied"), in_mode("wide")});
    CHECK(check_named(m, "retrigger").in ==
          std::vector<setting_choice>{in_mode("tied"), in_mode("struck"), in_mode("wide")});
}

TEST_CASE("expectations: a setting that 'in' does not name keeps its first value",
          "[rig][expectations]") {
    auto text =
        edited(data_text("expectations/complete.yaml"), "values: [down]", "values: [down, up]");
    text = edited(text, "\"Turn SLIDE fully counter-clockwise\"", "\"Turn SLIDE {value}\"");
    const auto m = read_text(text);
    CHECK(check_named(m, "slide").in ==
          std::vector<setting_choice>{in_mode("tied"), in_mode("wide")});
    CHECK(check_named(m, "accent").in.size() == 6);
}

TEST_CASE("expectations: limits, words, measures, stairs and steps are found by key and choice",
          "[rig][expectations]") {
    const auto m = read_text(data_text("expectations/complete.yaml"));
    const auto& tracking = check_named(m, "tracking");
    const auto* error = tracking.find<limit>("error", in_mode("wide"));
    REQUIRE(error != nullptr);
    CHECK(error->lower == -5.0);
    CHECK(error->upper == 5.0);
    CHECK(error->unit == dimension::cents);
    CHECK(error->text == "within 5 cent");
    CHECK(tracking.find<word>("error", in_mode("wide")) == nullptr);
    CHECK(tracking.find<limit>("no such key", in_mode("wide")) == nullptr);

    const auto* notes = tracking.find<note_stair>("notes", in_mode("tied"));
    REQUIRE(notes != nullptr);
    CHECK_THAT(notes->every.value(), WithinAbs(1.0 / 12.0, 1e-15));  // rounding of one division
    CHECK(notes->order == note_stair::direction::up_and_down);

    const auto* steps =
        check_named(m, "slide").find<std::vector<voltage_step>>("steps", in_mode("tied"));
    REQUIRE(steps != nullptr);
    REQUIRE(steps->size() == 3);
    CHECK((*steps)[1].from == volts{2.0});
    CHECK((*steps)[2].to == volts{1.0833});

    const auto* hold = check_named(m, "accent").find<measure>("hold", in_mode("tied"));
    REQUIRE(hold != nullptr);
    CHECK(hold->in_base_unit == 0.4);
}

TEST_CASE("expectations: a value may depend on one setting", "[rig][expectations]") {
    const auto m = read_text(data_text("expectations/complete.yaml"));
    const auto& retrigger = check_named(m, "retrigger");
    CHECK(retrigger.find<word>("slide", in_mode("tied"))->text == "goes on");
    CHECK(retrigger.find<word>("slide", in_mode("struck"))->text == "starts again");
    CHECK(retrigger.find<word>("new gate", in_mode("struck"))->text == "starts again");
    const auto& accent = check_named(m, "accent");
    CHECK(accent.find<limit>("level rise", in_mode("struck"))->upper == 6.0);
    CHECK(accent.find<limit>("level rise", in_mode("wide"))->upper == 8.0);
}

TEST_CASE("expectations: a stair may depend on a setting", "[rig][expectations]") {
    const auto m = read_text(
        edited(data_text("expectations/complete.yaml"),
               "notes: {from: 0 V, to: 4 V, every: 1 semitone, order: up and down}",
               "notes: {wide: {from: C2, to: C3, every: 1 octave, order: down}, otherwise: "
               "{from: 0 V, to: 4 V, every: 0.5 V}}"));
    const auto& tracking = check_named(m, "tracking");
    const auto* wide = tracking.find<note_stair>("notes", in_mode("wide"));
    REQUIRE(wide != nullptr);
    CHECK_THAT(wide->to.value(), WithinAbs(1.0, 1e-12));  // C3 is one octave above C2
    CHECK(wide->order == note_stair::direction::down);
    CHECK(tracking.find<note_stair>("notes", in_mode("tied"))->every == volts{0.5});
}

TEST_CASE("expectations: the file's SHA-256 goes with it", "[rig][expectations]") {
    const auto text = data_text("expectations/complete.yaml");
    CHECK(read_text(text).sha256.size() == 64);
    CHECK(read_text(text).sha256 != read_text(text + "# a comment\n").sha256);
}
