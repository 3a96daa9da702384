#include "playing.hpp"

#include <catch2/catch.hpp>
#include <cmath>

using Catch::Matchers::WithinAbs;
using ferrule::fault;
using ferrule::jack;
using ferrule::mode;

namespace {

enum class way { slide, legato, gate, accent };

constexpr double event_seconds = 1.0;

/// A note whose filter has long closed when something happens to it.
ferrule::sound note_with(way what) {
    playing::score score{1.5};
    score.set(jack::pitch, 0.0, 2.0).gate(0.1, 1.5);
    if (what == way::accent) return score.set(jack::accent, event_seconds, 5.0).stimulus();
    if (what == way::gate) return score.set(jack::gate, 0.95, 0.0).gate(1.0, 1.5).stimulus();
    if (what == way::slide) score.set(jack::slide, event_seconds, 5.0);
    return score.set(jack::pitch, event_seconds, 2.0 + 1.0 / 12.0).stimulus();
}

double level_db(const ferrule::sound& heard, double from_seconds, double to_seconds) {
    return 20.0 * std::log10(playing::rms(playing::channel(heard, 0, from_seconds, to_seconds)));
}

/// By how much the sound is louder just after than just before.
double rise_db(mode which, way what, const ferrule::fault_set& faults = {}) {
    auto plan = playing::calibrated(1);
    plan.set = {which, ferrule::waveform::saw, 0.1, 0.3, 0.0, 0.0};
    plan.faults = faults;
    const auto heard = ferrule::render(note_with(what), plan, {});
    return level_db(heard, event_seconds + 0.01, event_seconds + 0.05) -
           level_db(heard, 0.9, 0.945);
}

struct truth {
    mode which;
    way what;
    bool strikes;
    fault breaks;
};

constexpr fault none = fault::count;

}  // namespace

TEST_CASE("each mode strikes when it must and only then, and its faults turn that round",
          "[demo]") {
    const auto row = GENERATE(truth{mode::tied, way::slide, false, fault::slide_strikes},
                              truth{mode::tied, way::legato, false, fault::legato_strikes},
                              truth{mode::tied, way::gate, true, none},
                              truth{mode::tied, way::accent, false, fault::accent_strikes},
                              truth{mode::struck, way::slide, true, fault::slide_fails_to_strike},
                              truth{mode::struck, way::legato, true, fault::step_fails_to_strike},
                              truth{mode::struck, way::gate, true, none},
                              truth{mode::struck, way::accent, false, fault::accent_strikes},
                              truth{mode::wide, way::slide, false, fault::filter_only_strikes},
                              truth{mode::wide, way::legato, false, fault::legato_strikes},
                              truth{mode::wide, way::gate, true, fault::trigger_dead_in_mode},
                              truth{mode::wide, way::accent, false, fault::accent_strikes});
    CAPTURE(static_cast<int>(row.which), static_cast<int>(row.what));
    // A closed filter opened again by 2.5 octaves lets far more than 3 dB through.
    CHECK((rise_db(row.which, row.what) > 3.0) == row.strikes);
    if (row.breaks == none) return;
    ferrule::fault_set faults;
    faults.set(row.breaks, 1.0);
    const double rise = rise_db(row.which, row.what, faults);
    CHECK((rise > 3.0) != row.strikes);
}

TEST_CASE("in struck mode a step strikes once, wherever in a block it falls", "[demo]") {
    auto plan = playing::calibrated(2);
    plan.set = {mode::struck, ferrule::waveform::square, 1.0, 0.0, 0.0, 0.0};
    plan.set.decay_knob = 1.0;
    // A second strike would begin the 3 ms attack of an accent anew and end it later.
    for (int offset = 0; offset < 24; offset += 5) {
        CAPTURE(offset);
        playing::score score{1.0};
        const double step = 0.5 + offset / 48000.0 + 1e-9;
        score.set(jack::pitch, 0.0, 4.0).gate(0.1, 1.0).set(jack::accent, 0.4, 5.0);
        score.set(jack::pitch, step, 4.25);
        const auto heard = ferrule::render(score.stimulus(), plan, {});
        const double settled = level_db(heard, step + 0.0065, step + 0.0105);
        CHECK_THAT(settled - level_db(heard, step + 0.02, step + 0.06), WithinAbs(0.0, 0.4));
        CHECK(settled - level_db(heard, 0.45, 0.49) > 3.5);
    }
}

TEST_CASE("an accented note is about four decibels louder", "[demo]") {
    auto plan = playing::calibrated(1);
    plan.set = {mode::wide, ferrule::waveform::square, 1.0, 0.0, 1.0, 0.0};
    playing::score score{2.0};
    score.set(jack::pitch, 0.0, 1.0).gate(0.1, 0.5).set(jack::accent, 1.5, 5.0).gate(1.5, 2.0);
    const auto heard = ferrule::render(score.stimulus(), plan, {});
    // The square through the open filter, so that brightness adds little.
    const double rise = level_db(heard, 1.52, 1.6) - level_db(heard, 0.12, 0.2);
    CHECK_THAT(rise, WithinAbs(4.0, 0.1));
}

TEST_CASE("accents build up in a run and have fallen back after a rest", "[demo]") {
    auto plan = playing::calibrated(1);
    plan.set = {mode::wide, ferrule::waveform::square, 1.0, 0.0, 1.0, 0.0};
    playing::score score{4.0};
    score.set(jack::pitch, 0.0, 1.0).set(jack::accent, 0.0, 5.0);
    for (int note = 0; note < 6; ++note) score.gate(0.1 + 0.15 * note, 0.2 + 0.15 * note);
    score.gate(3.0, 3.1);
    const auto level_at = [&score, &plan](double strike) {
        return level_db(ferrule::render(score.stimulus(), plan, {}), strike + 0.02, strike + 0.08);
    };
    CHECK(level_at(0.25) - level_at(0.1) > 0.2);
    CHECK(level_at(0.85) - level_at(0.1) > 0.5);
    CHECK_THAT(level_at(3.0) - level_at(0.1), WithinAbs(0.0, 0.05));
    plan.faults.set(fault::accent_never_falls, 100.0);
    CHECK(level_at(3.0) - level_at(0.1) > 1.0);
    plan.faults.set(fault::accent_build_up_absent, 100.0);
    CHECK_THAT(level_at(0.85) - level_at(0.1), WithinAbs(0.0, 0.05));
}

TEST_CASE("an accent that is late lands on the note after", "[demo]") {
    auto plan = playing::calibrated(1);
    plan.set = {mode::wide, ferrule::waveform::square, 1.0, 0.0, 1.0, 0.0};
    plan.faults.set(fault::accent_late, 1.0);
    playing::score score{2.0};
    score.set(jack::pitch, 0.0, 1.0).gate(0.1, 0.3).set(jack::accent, 0.5, 5.0).gate(0.5, 0.7);
    score.set(jack::accent, 0.7, 0.0).gate(0.9, 1.1);
    const auto heard = ferrule::render(score.stimulus(), plan, {});
    CHECK_THAT(level_db(heard, 0.52, 0.6) - level_db(heard, 0.12, 0.2), WithinAbs(0.0, 0.1));
    CHECK_THAT(level_db(heard, 0.92, 1.0) - level_db(heard, 0.12, 0.2), WithinAbs(4.0, 0.1));
}

// Volume decay 3-4 s and a few milliseconds of release: common practice, no source.
TEST_CASE("a held note decays with 3.5 s and is let go within some milliseconds", "[demo]") {
    auto plan = playing::calibrated(1);
    plan.set = {mode::wide, ferrule::waveform::square, 1.0, 0.0, 1.0, 0.0};
    playing::score score{3.5};
    score.set(jack::pitch, 0.0, 2.0).gate(0.1, 3.2);
    const auto heard = ferrule::render(score.stimulus(), plan, {});
    const double fall_db = level_db(heard, 1.0, 1.1) - level_db(heard, 3.0, 3.1);
    // The filter closes meanwhile, but stays above 80 Hz * 2^6.25 = 6.1 kHz.
    CHECK_THAT(fall_db, WithinAbs(8.686 * 2.0 / 3.5, 0.2));
    CHECK(level_db(heard, 3.2, 3.205) - level_db(heard, 3.24, 3.26) > 30.0);
}
