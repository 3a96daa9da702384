#pragma once

#include <string>

#include "rig/fleet/tracking_record.hpp"

namespace cvrig::testing {

/// A record with everything in it that a record may hold.
[[nodiscard]] inline tracking_record whole_record() {
    tracking_record r;
    r.module = "Ferrule";
    r.unit = "0007";
    r.build = "1.4.2";
    r.build_sha256 = std::string(64, 'a');
    r.bench = "desk";
    r.started = "2026-03-04T05:06:07Z";
    r.rig_version = "1.0.0";
    r.choice = {{"mode", "tied"}, {"waveform", "saw"}};
    r.in_force = constants_in_force::by_default;
    r.constants = pitch_constants{-0.1 / 3.0, 5.1 / 4095.0};
    r.volts_per_octave = 1.0;
    r.u_common_cents = 0.24;
    r.notes = {{0.0, 1.0 / 3.0, 0.01, true}, {1.0, -2.5, 0.02, true}, {0.0, 0.4, 0.01, false}};
    return r;
}

}  // namespace cvrig::testing
