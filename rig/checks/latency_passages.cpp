#include "rig/checks/latency_passages.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <array>

#include "rig/checks/gate_timing.hpp"
#include "rig/checks/listening.hpp"

namespace cvrig {

using namespace literals;

namespace {

// Long enough for a usual attack and eight periods behind it; a usual release is over in the rest.
constexpr seconds note_time = 36_ms;
constexpr seconds least_rest = 50_ms;
constexpr seconds most_rest = 62_ms;
constexpr unsigned first_seed = 20261128;
constexpr seconds late =
    3.5_ms;  // a module that watches for new steps takes this for the note's own
constexpr std::size_t late_notes = 10;
constexpr std::array early_leads{8_ms, 5_ms, 3_ms, 2_ms, 1.5_ms, 1_ms};

unsigned seed_of(const check_request& request) {
    return first_seed + static_cast<unsigned>(request.attempt) - 1;
}

std::size_t note_count(const check_request& request) {
    return static_cast<std::size_t>(44 * request.attempt) + 1;  // the first is not read
}

step resting(seconds length, volts at) {
    return {.length = length, .pitch = at};
}

step sounding(seconds length, volts at) {
    return {.length = length, .pitch = at, .gate = true};
}

std::vector<seconds> leads_of(const check_request& request) {
    std::vector<seconds> out{early_leads.front()};  // the first note is not read
    out.insert(out.end(), late_notes * static_cast<std::size_t>(request.attempt), -late);
    for (int i = 0; i < request.attempt; ++i)
        out.insert(out.end(), early_leads.begin(), early_leads.end());
    return out;
}

}  // namespace

latency_pitches pitches_of(const check_request& request) {
    const volts upper{parameter(request, "note", request.module.pitch.at.value() + 3.45)};
    // A fourth: far enough apart for a filter that opens meanwhile to shift no phase by as much, near
    // enough for the phase to be followed through several milliseconds.
    return {upper, upper - request.module.pitch.per_octave * (5.0 / 12.0)};
}

bool asks_for_delay(const check_request& request) {
    return std::ranges::any_of(
        std::array{"delay", "jitter", "peak to peak", "worst", "block"}, [&](const char* key) {
            return request.wanted.find<limit>(key, request.choice) != nullptr;
        });
}

bool asks_for_lead(const check_request& request) {
    return request.wanted.find<limit>("pitch lead", request.choice) != nullptr;
}

passage gates_at_random(const check_request& request) {
    const volts at = pitches_of(request).upper;
    random_waits wait{seed_of(request)};
    passage p{.check = "latency", .steps = {}, .purpose = {}, .choice = request.choice};
    p.purpose =
        fmt::format("{} gates at random times (seed {})", note_count(request), seed_of(request));
    for (std::size_t i = 0; i < note_count(request); ++i) {
        p.steps.push_back(resting(wait.next(least_rest, most_rest), at));
        p.steps.push_back(sounding(note_time, at));
    }
    p.steps.push_back(resting(10_ms, at));
    return p;
}

lead_tune notes_with_leads(const check_request& request) {
    const auto pitches = pitches_of(request);
    random_waits wait{seed_of(request) + 1000};
    lead_tune out{{.check = "latency", .steps = {}, .purpose = {}, .choice = request.choice}, {}};
    auto& steps = out.played.steps;
    volts now = pitches.lower;
    for (const seconds lead : leads_of(request)) {
        const bool upward = now == pitches.lower;
        const volts next = upward ? pitches.upper : pitches.lower;
        const seconds rest = wait.next(least_rest, most_rest);
        if (lead.value() > 0.0) {
            steps.push_back(resting(rest - lead, now));
            steps.push_back(resting(lead, next));
            out.notes.push_back({lead, steps.size(), steps.size(), upward});
            steps.push_back(sounding(note_time, next));
        } else {
            steps.push_back(resting(rest, now));
            out.notes.push_back({lead, steps.size(), steps.size() + 1, upward});
            steps.push_back(sounding(-lead, now));
            steps.push_back(sounding(note_time + lead, next));
        }
        now = next;
    }
    steps.push_back(resting(10_ms, now));
    out.played.purpose = fmt::format("{} notes whose pitch moves about their gate (seed {})",
                                     out.notes.size(), seed_of(request) + 1000);
    return out;
}

}  // namespace cvrig
