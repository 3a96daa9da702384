#include "rig/checks/envelope_passages.hpp"

#include <algorithm>
#include <cmath>

#include "rig/checks/listening.hpp"

namespace cvrig {

using namespace literals;

namespace {

volts note_of(const check_request& request) {
    return volts{parameter(request, "note", request.module.pitch.at.value() + 1.0)};
}

// The longest release that the file allows; that of usual voices if it says nothing.
seconds longest_release(const check_request& request) {
    const auto* wanted = request.wanted.find<limit>("release", request.choice);
    return wanted != nullptr && wanted->upper ? seconds{*wanted->upper} : 9_ms;
}

// Short enough that a usual release has not gone far, long enough for its course to be seen.
seconds gap_of(const check_request& request) {
    const seconds usual = std::max(5_ms, 0.5 * longest_release(request));
    return seconds{parameter(request, "gap", usual.value())} * std::pow(1.3, request.attempt - 1);
}

seconds lengthened(const check_request& request, seconds length) {
    return length * std::pow(1.5, request.attempt - 1);
}

step sounding(const check_request& request, seconds length) {
    return {.length = length, .pitch = note_of(request), .gate = true};
}

step resting(const check_request& request, seconds length) {
    return {.length = length, .pitch = note_of(request)};
}

passage blank(const check_request& request, std::string purpose) {
    return {.check = "envelope",
            .steps = {resting(request, 20_ms)},
            .purpose = std::move(purpose),
            .choice = request.choice};
}

passage a_short_and_a_long_note(const check_request& request) {
    passage p = blank(request, "a short and a long note");
    for (const seconds held : {80_ms, lengthened(request, 0.7_s)}) {
        p.steps.push_back(sounding(request, held));
        p.steps.push_back(resting(request, envelope_rest(request)));
    }
    return p;
}

passage notes_struck_again(const check_request& request) {
    passage p = blank(request, "notes struck again in mid-decay");
    for (std::size_t i = 0; i < envelope_steps::gaps.size(); ++i) {
        p.steps.push_back(sounding(request, 80_ms));
        p.steps.push_back(resting(request, gap_of(request)));
    }
    p.steps.push_back(sounding(request, 50_ms));
    return p;
}

passage a_note_whose_filter_closes(const check_request& request) {
    passage p = blank(request, "a note whose filter closes");
    p.steps.push_back(sounding(request, lengthened(request, 0.55_s)));
    if (const auto* cutoff = request.wanted.find<measure>("cutoff", request.choice))
        for (auto& s : p.steps) s.others["cutoff"] = volts{cutoff->in_base_unit};
    return p;
}

}  // namespace

hertz envelope_pitch(const check_request& request) {
    return request.module.pitch.pitch(note_of(request));
}

seconds envelope_rest(const check_request& request) {
    return std::clamp(8.0 * longest_release(request), 75_ms, 2_s);
}

std::vector<passage> envelope_passages(const check_request& request) {
    std::vector<passage> out{a_short_and_a_long_note(request), notes_struck_again(request)};
    if (request.wanted.find<limit>("filter decay", request.choice) != nullptr)
        out.push_back(a_note_whose_filter_closes(request));
    return out;
}

}  // namespace cvrig
