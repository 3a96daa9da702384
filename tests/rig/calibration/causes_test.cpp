#include "rig/calibration/causes.hpp"

#include <catch2/catch.hpp>

#include "rig/diagnosis/diagnosis.hpp"
#include "stories.hpp"

using namespace cvrig;
using namespace cvrig::testing;

namespace {

std::string cause(const calibration_story& s) {
    const auto found = cause_of(s);
    return found ? found->cause : "none";
}

/// What differs from a perfect unit's constants, so many times as large.
std::function<pitch_constants(const pitch_constants&)> scaled(double share) {
    return [share](const pitch_constants& right) {
        return pitch_constants{share * right.offset_volts,
                               1.0 + share * (right.gain_volts_per_code - 1.0)};
    };
}

}  // namespace

TEST_CASE("calibration: a good one has no cause, whatever the module tells", "[calibration]") {
    const bool tells = GENERATE(true, false);
    const double gain = GENERATE(0.988, 0.9999, 1.0, 1.004, 1.012);
    invented_calibration made;
    made.unit.gain = gain;
    made.tells = tells;
    CAPTURE(tells, gain);
    CHECK(cause(made.story()) == "none");
}

TEST_CASE("calibration: constants that are not stored, or stored wrongly, are told apart",
          "[calibration]") {
    struct row {
        double share;
        std::string cause;
    };
    const auto [share, wanted] =
        GENERATE(row{0.0, "constants not stored"}, row{-1.0, "wrong sign"}, row{0.1, "wrong scale"},
                 row{10.0, "wrong scale"}, row{0.5, "wrong scale"}, row{-0.1, "wrong scale"},
                 row{2.0, "wrong scale"}, row{50.0, "wrong scale"});
    const bool tells = GENERATE(true, false);
    const double gain = GENERATE(0.989, 1.006, 1.012);
    const double offset = GENERATE(-0.011, 0.0, 0.008);
    invented_calibration made;
    made.unit = {gain, offset, 0.00003};
    made.stored = scaled(share);
    made.tells = tells;
    CAPTURE(share, tells, gain, offset);
    CHECK(cause(made.story()) == wanted);
}

TEST_CASE("calibration: of a module that sounds no pitch any more, its constants tell why",
          "[calibration]") {
    struct row {
        double share;
        std::string cause;
    };
    const auto [share, wanted] = GENERATE(row{1000.0, "wrong scale"}, row{-300.0, "wrong scale"});
    invented_calibration made;
    made.stored = scaled(share);
    auto s = made.story();
    s.after.notes.clear();
    CHECK(cause(s) == wanted);
    s.after.told.reset();
    CHECK(cause(s) == "none");
}

TEST_CASE("calibration: a constant that is told with the wrong sign is named", "[calibration]") {
    invented_calibration made;
    made.unit.offset_volts = 0.19;
    const bool gain = GENERATE(true, false);
    made.stored = [gain](const pitch_constants& right) {
        return gain ? pitch_constants{right.offset_volts, -right.gain_volts_per_code}
                    : pitch_constants{-right.offset_volts, right.gain_volts_per_code};
    };
    auto s = made.story();
    if (gain) s.after.notes.clear();  // it falls where it should rise, out of hearing
    const auto found = cause_of(s);
    REQUIRE(found);
    CHECK(found->cause == "wrong sign");
    CHECK(found->sentence.find(gain ? "a gain of -" : "an offset of 0.1") != std::string::npos);
}

TEST_CASE("calibration: a voltage that was read before it settled is named", "[calibration]") {
    const std::size_t early = GENERATE(2U, 3U);
    const double share = GENERATE(0.01, 0.04, 0.08);
    const bool tells = GENERATE(true, false);
    invented_calibration made;
    made.early = early;
    made.early_share = share;
    made.tells = tells;
    CAPTURE(early, share, tells);
    CHECK(cause(made.story()) == "voltage " + std::to_string(early) + " read too early");
}

TEST_CASE("calibration: what wipes the constants is named", "[calibration]") {
    struct row {
        std::size_t first_lost;
        std::string cause;
    };
    const auto [first_lost, wanted] =
        GENERATE(row{0, "constants not stored"}, row{1, "wiped by a settings reset"},
                 row{2, "lost at a re-flash"});
    const invented_calibration made;
    auto s = made.story();
    for (std::size_t i = first_lost; i < 3; ++i) {
        const auto name = s.survived[i].name;
        s.survived[i] = s.before;
        s.survived[i].name = name;
    }
    CAPTURE(first_lost);
    CHECK(cause(s) == wanted);
    CHECK(cause_of(s)->sentence.find("back to where it was before") != std::string::npos);
}

TEST_CASE("calibration: constants that are lost by a unit which was in tune before are told",
          "[calibration]") {
    invented_calibration made;
    made.unit = {1.0, 0.0, 0.0};
    made.early = 2;
    made.early_share = 0.0003;  // as much as two calibrations differ by: a tenth of a cent
    auto s = made.story();
    s.survived[1].told = s.before.told;
    const auto found = cause_of(s);
    REQUIRE(found);
    CHECK(found->cause == "wiped by a settings reset");
    CHECK(found->sentence.find("tells those that it had before") != std::string::npos);
}

TEST_CASE("calibration: a module that sticks is told with the voltage at which it does",
          "[calibration]") {
    calibration_story s;
    s.procedure.how = procedure_result::end::refused;
    s.procedure.stage = "voltage 2 of 3, 2 V";
    s.procedure.stuck_at = 2;
    s.procedure.reason = "The module answers 1.";
    CHECK(cause(s) == "stuck at voltage 2");
}

TEST_CASE("calibration: a bench that cannot go on is no fault of the module", "[calibration]") {
    calibration_story s;
    s.procedure.how = procedure_result::end::bench;
    s.procedure.stage = "voltage 2 of 3, 2 V";
    CHECK(cause(s) == "none");
}

TEST_CASE("calibration: what no constants can mend is blamed on the hardware", "[calibration]") {
    invented_calibration made;
    made.unit.bow_per_volt = 0.003;  // 4 V: 48 mV, of which a line leaves 6 mV or 7.2 cent
    const auto found = cause_of(made.story());
    REQUIRE(found);
    CHECK(found->cause == "hardware");
}

TEST_CASE("calibration: constants that could be better are blamed on the procedure",
          "[calibration]") {
    invented_calibration made;
    made.unit.bow_per_volt = 0.0008;
    made.stored = [](const pitch_constants& right) {
        return pitch_constants{right.offset_volts + 0.004, right.gain_volts_per_code * 0.9985};
    };
    const auto found = cause_of(made.story());
    REQUIRE(found);
    CHECK(found->cause != "hardware");
}
