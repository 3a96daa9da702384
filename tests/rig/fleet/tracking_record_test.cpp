// From what the tracking check heard to a record, and which unit it is of.

#include "rig/fleet/tracking_record.hpp"

#include <algorithm>
#include <catch2/catch.hpp>

#include "rig/fleet/unit_on_bench.hpp"
#include "tests/rig/demo_desk.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

check_result heard_tracking() {
    ferrule_link module{7, ""};
    return demo_desk{}.judged(module, {.checks = {"tracking"}, .settings = {{"mode", "struck"}}});
}

/// A console that has one answer to everything.
class parrot : public console {
public:
    explicit parrot(std::optional<std::string> serial) : serial_{std::move(serial)} {}
    console_reply ask(const dialogue_line& line) override {
        ++asked;
        if (!serial_)
            return {
                .ok = false, .line = {}, .captures = {}, .problem = "Silence.", .is_silence = true};
        return {.ok = true, .line = line.send, .captures = {*serial_}, .problem = {}};
    }
    void mark() override {}
    [[nodiscard]] console_record record() override { return {}; }
    void expect_reset() override {}
    [[nodiscard]] std::string description() const override { return "parrot"; }
    int asked{0};

private:
    std::optional<std::string> serial_;
};

console_rules rules_with_serial() {
    console_rules rules;
    rules.serial_number = dialogue_line{.send = "*IDN?", .expect = ".*,([^,]*)", .where = {}};
    return rules;
}

}  // namespace

TEST_CASE("tracking record: every note of the check is in it, up and down", "[fleet][tracking]") {
    const auto heard = heard_tracking();
    tracking_record about;
    about.unit = std::string{"7"};
    const auto r = record_of(heard, about);
    CHECK(r.unit == "7");
    CHECK(r.choice == heard.choice);
    // 0 V to 4 V every 4 semitones are 13 notes, up and down.
    REQUIRE(r.notes.size() == 26);
    CHECK(std::ranges::count(r.notes, true, &tracked_note::upward) == 13);
    const auto& error = finding_of(heard, "error");
    for (std::size_t i = 0; i < r.notes.size(); ++i) {
        CHECK_THAT(
            r.notes[i].at_volts,
            WithinAbs((i < 13 ? static_cast<double>(i) : 25.0 - static_cast<double>(i)) / 3.0,
                      1e-9));
        CHECK(r.notes[i].upward == (i < 13));
        CHECK(r.notes[i].error_cents == error.all[i].value);
        // Root sum of squares: what the estimator and what the bench adds make the whole.
        CHECK_THAT(std::hypot(r.notes[i].u_cents, r.u_common_cents),
                   WithinAbs(error.all[i].standard_uncertainty, 1e-9));
    }
    // 0.2 mV of the desk's pitch output are 0.24 cent at 1 V an octave; its clock adds less.
    CHECK(r.u_common_cents >= 0.24);
    CHECK(r.u_common_cents < 0.3);
}

TEST_CASE("tracking record: a file that demands no error is recorded all the same",
          "[fleet][tracking]") {
    demo_desk desk;
    auto& tracking = *std::ranges::find(desk.module.checks, "tracking", &check_expectation::name);
    tracking.keys.erase("error");
    ferrule_link module{7, ""};
    const auto heard =
        desk.judged(module, {.checks = {"tracking"}, .settings = {{"mode", "struck"}}});
    CHECK(heard.find("error") == nullptr);
    CHECK(record_of(heard, {}).notes.size() == 26);
}

TEST_CASE("tracking record: what was not heard makes no notes", "[fleet][tracking]") {
    noise_only module{0.01};
    const auto heard =
        demo_desk{}.judged(module, {.checks = {"tracking"}, .settings = {{"mode", "struck"}}});
    CHECK(heard.outcome() == verdict::unsure);
    CHECK(record_of(heard, {}).notes.empty());
}

TEST_CASE("tracking record: a unit's number is the same with leading zeros", "[fleet]") {
    CHECK(is_same_unit("7", "0007"));
    CHECK(is_same_unit("0", "000"));
    CHECK(is_same_unit("7a", "7a"));
    CHECK_FALSE(is_same_unit("7", "70"));
    CHECK_FALSE(is_same_unit("7", "7a"));
    CHECK_FALSE(is_same_unit("07a", "7a"));
    CHECK_FALSE(is_same_unit("", "0"));
}

TEST_CASE("unit on the bench: the module's own serial number is taken", "[fleet][console]") {
    parrot talks{" 0007 "};
    CHECK(told_serial_number(talks, rules_with_serial(), "") == "0007");
    CHECK(told_serial_number(talks, rules_with_serial(), "7") == "0007");
}

TEST_CASE("unit on the bench: another unit than was typed is refused", "[fleet][console]") {
    parrot talks{"0008"};
    CHECK_THROWS_WITH(told_serial_number(talks, rules_with_serial(), "7"),
                      Contains("'0008'") && Contains("'7'") && Contains("--unit"));
}

TEST_CASE("unit on the bench: a console that tells nothing is no obstacle", "[fleet][console]") {
    parrot silent{std::nullopt};
    CHECK(told_serial_number(silent, rules_with_serial(), "7").empty());
    parrot blank{""};
    CHECK(told_serial_number(blank, rules_with_serial(), "7").empty());
    parrot unasked{"0008"};
    CHECK(told_serial_number(unasked, {}, "7").empty());
    CHECK(unasked.asked == 0);
}
