#include "rig/checks/gate_passages.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <array>
#include <cmath>

#include "rig/checks/gate_timing.hpp"
#include "rig/checks/listening.hpp"

namespace cvrig {

using namespace literals;

namespace {

constexpr unsigned first_seed = 20261129;
constexpr seconds slow_time = 0.5_s;  // for all the way from low to high
constexpr seconds rough_step = 2_ms;  // longer than the blocks of usual firmware
constexpr seconds note_time = 36_ms;
constexpr seconds least_rest = 45_ms;
constexpr seconds most_rest = 56_ms;
constexpr int hard_notes = 9;
constexpr std::size_t fast_count = 25;

unsigned seed_of(const check_request& request, unsigned purpose) {
    return first_seed + 100 * purpose + static_cast<unsigned>(request.attempt) - 1;
}

struct gate_levels {
    volts low, high;
};

gate_levels levels_of(const check_request& request) {
    const auto* jack = request.module.find_jack("gate");
    return jack == nullptr ? gate_levels{volts{0.0}, volts{5.0}}
                           : gate_levels{jack->low, jack->high};
}

step resting(const check_request& request, seconds length) {
    return {.length = length, .pitch = gate_note(request)};
}

step sounding(const check_request& request, seconds length) {
    return {.length = length, .pitch = gate_note(request), .gate = true};
}

passage blank(const check_request& request, std::string purpose) {
    return {.check = "gate", .steps = {}, .purpose = std::move(purpose), .choice = request.choice};
}

void add_straight(const check_request& request, std::vector<step>& steps, volts from, volts to) {
    step s = resting(request, slow_time);
    s.from["gate"] = from;
    s.others["gate"] = to;
    steps.push_back(std::move(s));
}

void add_rough(const check_request& request, std::vector<step>& steps, volts from, volts to,
               random_waits& random) {
    const auto levels = levels_of(request);
    const double roughness_v = parameter(request, "roughness", 0.05);
    const int count = static_cast<int>(std::lround(slow_time / rough_step));
    for (int i = 1; i <= count; ++i) {
        // Whole microseconds stand for whole microvolts here.
        const volts off{random.next(seconds{-roughness_v}, seconds{roughness_v}).value()};
        const volts way = from + (to - from) * (static_cast<double>(i) / count) + off;
        step s = resting(request, rough_step);
        s.others["gate"] = i == count ? to : std::clamp(way, levels.low, levels.high);
        steps.push_back(std::move(s));
    }
}

slow_gate add_slow(const check_request& request, std::vector<step>& steps, bool rough,
                   random_waits& random) {
    const auto levels = levels_of(request);
    slow_gate out{
        .rise_step = steps.size(), .rise_end = 0, .fall_step = 0, .fall_end = 0, .rough = rough};
    const auto move = [&](volts from, volts to) {
        if (rough)
            add_rough(request, steps, from, to, random);
        else
            add_straight(request, steps, from, to);
    };
    move(levels.low, levels.high);
    out.rise_end = steps.size();
    steps.push_back(sounding(request, 40_ms));
    out.fall_step = steps.size();
    move(levels.high, levels.low);
    out.fall_end = steps.size();
    steps.push_back(resting(request, 60_ms));
    return out;
}

// So many that none missed proves the share with the file's coverage.
int trigger_count(const check_request& request) {
    const double tail = 0.5 * std::erfc(request.module.coverage_factor / std::sqrt(2.0));
    const auto fewest = static_cast<int>(std::ceil(std::log(tail) / std::log(sure_share)));
    return fewest * request.attempt;
}

bool asks(const check_request& request, std::initializer_list<const char*> keys) {
    return std::ranges::any_of(keys, [&](const char* key) {
        return request.wanted.find<limit>(key, request.choice) != nullptr;
    });
}

// Twice the width that is demanded, that width, and shorter ones down to a quarter of it.
std::vector<seconds> widths_of(const check_request& request) {
    const auto* wanted = request.wanted.find<limit>("shortest trigger", request.choice);
    const double demanded_s = wanted != nullptr && wanted->upper ? *wanted->upper : 0.002;
    std::vector<seconds> out;
    for (const double factor : {2.0, 1.0, 0.5, 0.25}) out.emplace_back(factor * demanded_s);
    return out;
}

}  // namespace

volts gate_note(const check_request& request) {
    return volts{parameter(request, "note", request.module.pitch.at.value() + 3.45)};
}

bool asks_for_slow(const check_request& request) {
    return asks(request, {"threshold up", "threshold down", "hysteresis", "slow edge strikes"});
}

bool asks_for_triggers(const check_request& request) {
    return asks(request, {"shortest trigger"});
}

bool asks_for_fast(const check_request& request) {
    return asks(request, {"fast gates missed", "fast gates struck twice"});
}

slow_tune slow_gates(const check_request& request) {
    random_waits random{seed_of(request, 0)};
    slow_tune out{
        blank(request, fmt::format("hard and slow gates (seed {})", seed_of(request, 0))), {}, {}};
    auto& steps = out.played.steps;
    for (int i = 0; i < hard_notes * request.attempt; ++i) {
        steps.push_back(resting(request, random.next(least_rest, most_rest)));
        // After a rest a filter may be closed that the next note finds open.
        if (i > 0) out.hard_notes.push_back(steps.size());
        steps.push_back(sounding(request, note_time));
    }
    steps.push_back(resting(request, 60_ms));
    for (int i = 0; i < request.attempt; ++i)
        for (const bool rough : {false, false, true, true})
            out.slow.push_back(add_slow(request, steps, rough, random));
    return out;
}

std::vector<trigger_tune> triggers(const check_request& request) {
    std::vector<trigger_tune> out;
    const int count = trigger_count(request);
    unsigned purpose = 1;
    for (const seconds width : widths_of(request)) {
        const unsigned seed = seed_of(request, purpose++);
        random_waits random{seed};
        auto p = blank(request, fmt::format("{} triggers of {} (seed {})", count,
                                            show(width.value(), dimension::seconds), seed));
        for (int i = 0; i < count; ++i) {
            p.steps.push_back(resting(request, random.next(18_ms, 24_ms)));
            p.steps.push_back(sounding(request, width));
        }
        p.steps.push_back(resting(request, 20_ms));
        out.push_back({std::move(p), width});
    }
    return out;
}

passage fast_gates(const check_request& request) {
    const seconds every{parameter(request, "fast gates every", 0.02)};
    auto p = blank(request, fmt::format("{} gates, one every {}", fast_count,
                                        show(every.value(), dimension::seconds)));
    for (std::size_t i = 0; i < fast_count; ++i) {
        p.steps.push_back(sounding(request, every / 2.0));
        p.steps.push_back(resting(request, every / 2.0));
    }
    return p;
}

}  // namespace cvrig
