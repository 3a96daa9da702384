// What the checks themselves ask of an expectation file, beyond the form of each key.

#include <catch2/catch.hpp>

#include "rig/checks/check.hpp"
#include "rig/expectations/compared.hpp"
#include "tests/rig/expectations/files.hpp"

using namespace cvrig;

namespace {

const std::string head =
    "format: cvrig expectations 1\n"
    "module: Thing\n"
    "pitch: {at 0 V: C2, per octave: 1 V}\n"
    "drive:\n"
    "  pitch: {from: 0 V, to: 4 V}\n"
    "  gate: {low: 0 V, high: 5 V}\n"
    "  cutoff: {from: 0 V, to: 5 V}\n"
    "listen: [left]\n"
    "settings:\n"
    "  mode: {values: [tied, wide], operator: \"Set {value}\"}\n"
    "  cutoff knob: {values: [down, half], operator: \"Turn to {value}\"}\n"
    "checks:\n";  // the checks begin in line 13

module_expectations read_checks_text(const std::string& checks, const std::string& above = head) {
    const scratch_file file{above + checks};
    return read_expectations(file.path(), all_specs());
}

/// "LINE:COLUMN: sentence"; fails the test if nothing is wrong or more than one thing is.
std::string only_complaint(const std::string& checks, const std::string& above = head) {
    const scratch_file file{above + checks};
    try {
        static_cast<void>(read_expectations(file.path(), all_specs()));
    } catch (const user_error& e) {
        REQUIRE(e.complaints().size() == 1);
        return e.complaints().front().text().substr(file.path().size() + 1);
    }
    FAIL("nothing was said");
    return {};
}

}  // namespace

TEST_CASE("rules: a check that compares asks for exactly one setting to compare by",
          "[rig][expectations]") {
    CHECK(only_complaint("  knob and jack: {in: {mode: wide}, adds up: within 5 %}\n") ==
          "13:23: Check 'knob and jack' compares the values of a setting, and here none has more "
          "than one; name two or more in 'in', the one to compare with first.");
    CHECK(
        only_complaint("  knob and jack: {adds up: within 5 %}\n") ==
        "13:3: Check 'knob and jack' compares the values of one setting, and here cutoff knob and "
        "mode vary; say which one with the key 'knob'.");
    CHECK(only_complaint("  unplugged: {in: {mode: [tied, wide]}, cable: cutoff knob, reads as: "
                         "within 0.1 V}\n") ==
          "13:41: Check 'unplugged' compares the values of 'cutoff knob', of which it plays only "
          "one; name two or more in 'in', the one to compare with first.");
    CHECK(only_complaint("  knob and jack: {knob: cutof knob, adds up: within 5 %}\n") ==
          "13:25: 'cutof knob' is not a declared setting (one of: mode, cutoff knob); did you mean "
          "'cutoff knob'?");
}

TEST_CASE("rules: the setting that is compared is the one named, or the one that varies alone",
          "[rig][expectations]") {
    const auto named = read_checks_text("  knob and jack: {knob: mode, adds up: within 5 %}\n");
    CHECK(compared_setting(named.checks.front(), "knob") == "mode");
    const auto alone = read_checks_text(
        "  knob and jack: {in: {cutoff knob: [down, half]}, adds up: within 5 %}\n");
    CHECK(compared_setting(alone.checks.front(), "knob") == "cutoff knob");
}

TEST_CASE("rules: a check that moves a CV jack asks for the jack", "[rig][expectations]") {
    const auto without = edited(head, "  cutoff: {from: 0 V, to: 5 V}\n", "");
    CHECK(only_complaint("  unplugged: {in: {mode: [tied, wide]}, reads as: within 0.1 V}\n",
                         without) ==
          "12:3: Check 'unplugged' moves the CV jack 'cutoff'; declare it under 'drive' with a "
          "range, or leave the check out.");
}

TEST_CASE("rules: a check that hears nothing takes no settings", "[rig][expectations]") {
    CHECK(
        only_complaint("  image: {in: {mode: wide}, file: sound}\n") ==
        "13:15: Check 'image' hears nothing, so no setting changes what it finds; leave 'in' out.");
    CHECK(only_complaint("  console: {resets: {tied: none, wide: at most 2}}\n") ==
          "13:21: Check 'console' hears nothing, so 'resets' is the same with every setting; give "
          "one value.");
    const auto good = read_checks_text("  image: {file: sound}\n");
    CHECK(good.checks.front().in == std::vector<setting_choice>{{}});
}

TEST_CASE("rules: the number of restarts takes an upper limit alone", "[rig][expectations]") {
    for (const char* wrong : {"at least 1", "exactly 2", "between 1 and 3"})
        CHECK(only_complaint(std::string{"  console: {resets: "} + wrong + "}\n") ==
              "13:21: 'resets' takes 'none' or 'at most ...', and here is '" + std::string{wrong} +
                  "'.");
    for (const char* good : {"none", "at most 2"})
        CHECK(read_checks_text(std::string{"  console: {resets: "} + good + "}\n").checks.size() ==
              1);
}

TEST_CASE("rules: a pattern lasts for hours, not for years", "[rig][expectations]") {
    CHECK(only_complaint("  pattern: {steps: 1000000000, wrong steps: none}\n") ==
          "13:20: '1000000000' is more than 100000, the most that 'steps' takes.");
    // An hour of 110 ms steps, and one of 50 ms steps.
    for (const char* steps : {"32728", "72000"})
        CHECK(
            read_checks_text("  pattern: {steps: " + std::string{steps} + ", wrong steps: none}\n")
                .checks.size() == 1);
}
