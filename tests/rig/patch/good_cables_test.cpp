#include <catch2/catch.hpp>

#include "tests/rig/patch/patch_bench.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::testing;

constexpr std::array modes{"tied", "struck", "wide"};
constexpr std::array builds{
    "accent-piles-up", "chopped-tail",  "filter-only",  "good",           "hasty-reader",
    "late-accent",     "lost-octave",   "louder",       "right-inverted", "slide-restrikes",
    "slow-slide",      "smeared-steps", "sticky-pitch", "stored-layout",  "struck-is-tied",
    "swollen-release", "weak-accent"};

void demand_as_wired(const patch_result& r) {
    CAPTURE(r.sentences, r.cannot_exclude);
    CHECK(r.as_wired);
    CHECK(r.sentences.empty());
    CHECK(r.cannot_exclude.empty());
    CHECK(r.unproven_jacks.empty());
}

TEST_CASE("patch: twelve good units in every mode are as wired, by the short test alone",
          "[patch]") {
    const auto files = read_demo();
    margins all;
#ifdef CVRIG_SPARSE
    constexpr int last_unit = 2;
#else
    constexpr int last_unit = 12;
#endif
    for (int unit = 1; unit <= last_unit; ++unit)
        for (const auto* mode : modes) {
            CAPTURE(unit, mode);
            const auto r = check_cables(files, demo_unit(unit, mode), cabling::straight());
            demand_as_wired(r);
            CHECK(r.short_test_held);
            // Sound starts two blocks of 24 frames after the gate at the earliest, 700 frames of
            // the desk come on top, and the attack takes 3 ms.
            REQUIRE(r.gate_to_sound_samples);
            CHECK(*r.gate_to_sound_samples > 700.0 + 48.0);
            CHECK(*r.gate_to_sound_samples < 700.0 + 48.0 + 24.0 + 3.0 * 48.0);
            CHECK(r.played < seconds{3.0});
            all.add(r, cabling::straight());
        }
    all.print("good units");
}

TEST_CASE("patch: a faulty build is no wrong cable", "[patch]") {
    const auto files = read_demo();
    margins all;
    for (const auto* build : builds)
        for (const auto* mode : modes) {
#ifdef CVRIG_SPARSE
            if (mode != modes[0]) continue;
#endif
            CAPTURE(build, mode);
            const auto r = check_cables(files, demo_unit(2, mode, build), cabling::straight());
            demand_as_wired(r);
            all.add(r, cabling::straight());
        }
    all.print("builds");
}

// By hand: bin/test_patch "[all-units]".
TEST_CASE("patch: no build on any of twelve units is a wrong cable", "[.][all-units]") {
    const auto files = read_demo();
    margins all;
    for (const auto* build : builds)
        for (int unit = 1; unit <= 12; ++unit)
            for (const auto* mode : modes) {
                CAPTURE(build, unit, mode);
                const auto r =
                    check_cables(files, demo_unit(unit, mode, build), cabling::straight());
                demand_as_wired(r);
                all.add(r, cabling::straight());
            }
    all.print("all builds on all units");
}

TEST_CASE("patch: another waveform or latency changes nothing", "[patch]") {
    const auto files = read_demo();
    for (const auto* wave : {"waveform=blend", "waveform=square"})
        for (const std::size_t latency : {std::size_t{0}, std::size_t{9000}}) {
            CAPTURE(wave, latency);
            auto words = demo_unit(5, "tied");
            words.emplace_back(wave);
            ferrule_desk desk{words, cabling::straight()};
            desk.latency_samples = latency;
            const auto r = check_patch(desk, files.desk, files.module, {});
            CHECK(r.as_wired);
            CHECK(r.short_test_held);
        }
}

TEST_CASE("patch: without a console an exchange of left and right is not excluded", "[patch]") {
    auto files = read_demo();
    ferrule_desk desk{demo_unit(1, "tied"), cabling::straight()};
    const auto r = check_patch(desk, files.desk, files.module, {});
    CHECK(r.as_wired);
    REQUIRE(r.cannot_exclude.size() == 1);
    CHECK_THAT(r.cannot_exclude[0],
               Catch::StartsWith("An exchange of the cables from left and right cannot be "
                                 "excluded: they carry the same sound"));
}

TEST_CASE("patch: a module that lacks accent and slide is checked without them", "[patch]") {
    auto files = read_demo();
    const auto gone = [](const std::string& jack) { return jack == "accent" || jack == "slide"; };
    std::erase_if(files.module.drive, [&](const auto& j) { return gone(j.name); });
    ferrule_desk desk{demo_unit(4, "wide"), cabling::straight()};
    const auto r = check_patch(desk, files.desk, files.module, {});
    CHECK(r.as_wired);
    CHECK(r.short_test_held);
    CHECK(r.unproven_jacks.empty());
}

TEST_CASE("patch: a jack of unknown effect is only heard to change something", "[patch]") {
    auto files = read_demo();
    for (auto& jack : files.module.drive)
        if (jack.name == "cutoff") jack.name = "sparkle";
    for (auto& output : files.desk.outputs)
        if (output.jack == "cutoff") output.jack = "sparkle";
    ferrule_desk desk{demo_unit(4, "tied"), cabling::straight()};
    const auto r = check_patch(desk, files.desk, files.module, {});
    CAPTURE(r.sentences, r.cannot_exclude);
    CHECK(r.as_wired);
    CHECK(r.proves("sparkle"));
    CHECK_THAT(r.cannot_exclude.at(0), Catch::StartsWith("What sparkle does to the sound is not "
                                                         "known here"));
    auto missing = cabling::straight();
    missing.gain[4] = {};
    ferrule_desk loose{demo_unit(4, "tied"), missing};
    const auto doubted = check_patch(loose, files.desk, files.module, {});
    CAPTURE(doubted.sentences, doubted.cannot_exclude);
    CHECK(doubted.as_wired);
    CHECK_FALSE(doubted.proves("sparkle"));
}

TEST_CASE("patch: a stream that lost samples is played again, twice at most", "[patch]") {
    const auto files = read_demo();
    ferrule_desk desk{demo_unit(1, "tied"), cabling::straight()};
    desk.broken_exchanges = 2;
    CHECK(check_patch(desk, files.desk, files.module, {}).as_wired);
    desk.broken_exchanges = 3;
    const auto r = check_patch(desk, files.desk, files.module, {});
    CHECK_FALSE(r.as_wired);
    REQUIRE(r.sentences.size() == 1);
    CHECK_THAT(
        r.sentences[0],
        Catch::StartsWith("Where the cables lead could not be heard: The driver reports that "
                          "input was lost"));
}

}  // namespace
