#pragma once

#include <span>
#include <vector>

#include "rig/fleet/tracking_record.hpp"

namespace cvrig {

/// A change of the pitch constants, as it acts on what a module sounds:
/// volts afterwards = offset + gain * volts before.
///
/// Definition: a module sounds offset0 + gain0 * code. With gain1 = gain * gain0 and offset1 =
///             offset_volts + gain * offset0 it sounds offset1 + gain1 * code, which is the above
///             whatever the code. So a change can be found without knowing any constants.
struct constants_change {
    double offset_volts{0.0};
    double gain{1.0};

    [[nodiscard]] pitch_constants applied_to(const pitch_constants& before) const noexcept {
        return {offset_volts + gain * before.offset_volts, gain * before.gain_volts_per_code};
    }
    /// What a note's error in cents becomes.
    [[nodiscard]] double error_after(double at_volts, double error_cents,
                                     double volts_per_octave) const noexcept;

    friend bool operator==(const constants_change&, const constants_change&) = default;
};

/// The change that makes `to` of `from`, whose gain is not 0.
[[nodiscard]] constants_change change_between(const pitch_constants& from,
                                              const pitch_constants& to) noexcept;

/// The notes as they would sound after a change.
[[nodiscard]] std::vector<tracked_note> notes_after(std::span<const tracked_note> notes,
                                                    const constants_change& change,
                                                    double volts_per_octave);

/// The voltage that sounds as the note does on a perfect module.
[[nodiscard]] double heard_volts(const tracked_note& note, double volts_per_octave) noexcept;

}  // namespace cvrig
