#include "rig/fleet/constants_change.hpp"

#include <cmath>

namespace cvrig {

double heard_volts(const tracked_note& note, double volts_per_octave) noexcept {
    return note.at_volts + note.error_cents * volts_per_octave / 1200.0;
}

double constants_change::error_after(double at_volts, double error_cents,
                                     double volts_per_octave) const noexcept {
    const double per_octave = 1200.0 / volts_per_octave;
    // Written so that the error of no change is the error, to the last digit.
    return error_cents * gain + (offset_volts + (gain - 1.0) * at_volts) * per_octave;
}

constants_change change_between(const pitch_constants& from, const pitch_constants& to) noexcept {
    const double gain = to.gain_volts_per_code / from.gain_volts_per_code;
    return {to.offset_volts - gain * from.offset_volts, gain};
}

std::vector<tracked_note> notes_after(std::span<const tracked_note> notes,
                                      const constants_change& change, double volts_per_octave) {
    std::vector<tracked_note> out{notes.begin(), notes.end()};
    for (auto& n : out) {
        n.error_cents = change.error_after(n.at_volts, n.error_cents, volts_per_octave);
        n.u_cents *= std::abs(change.gain);
    }
    return out;
}

}  // namespace cvrig
