#include "analysis/envelope.hpp"

#include "analysis/held_note.hpp"

namespace cvrig::analysis {

outcome<std::vector<envelope_frame>> track_envelope(std::span<const double> volts, sample_rate rate,
                                                    const envelope_request& request) {
    const auto note = follow_held_note(volts, rate, request);
    if (!note) return refuse(note.error());
    return envelope_of(*note, rate);
}

}  // namespace cvrig::analysis
