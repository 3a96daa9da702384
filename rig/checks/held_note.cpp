#include "rig/checks/held_note.hpp"

#include <cmath>

#include "rig/checks/listening.hpp"

namespace cvrig {

using namespace literals;

namespace {
volts note_of(const check_request& request) {
    return volts{parameter(request, "note", request.module.pitch.at.value() + 1.0)};
}
}  // namespace

passage held_note(const check_request& request) {
    const volts at = note_of(request);
    const seconds held = 0.3_s * std::pow(1.6, request.attempt - 1);
    // The two checks ask for the same passage; `check` is left to the first of them.
    return {.check = request.wanted.name,
            .steps = {{.length = 20_ms, .pitch = at}, {.length = held, .pitch = at, .gate = true}},
            .purpose = "a held note",
            .choice = request.choice};
}

std::span<const double> held_part(const heard_passage& heard, std::size_t jack) {
    return part_of_step(heard, jack, 1, 20_ms, 2_ms);
}

hertz held_pitch(const check_request& request) {
    return request.module.pitch.pitch(note_of(request));
}

}  // namespace cvrig
