#include "rig/checks/noise_passages.hpp"

#include <algorithm>
#include <cmath>

#include "rig/checks/listening.hpp"

namespace cvrig {

namespace {

using namespace literals;

seconds longer(const check_request& request, seconds first) {
    return first * std::pow(1.6, request.attempt - 1);
}

step at_rest(const check_request& request, seconds length) {
    const auto* pitch = request.module.find_jack("pitch");
    return {.length = length, .pitch = pitch == nullptr ? 0_V : pitch->rest};
}

seconds wait_of(const check_request& request) {
    return seconds{parameter(request, "wait", 0.2)};
}

}  // namespace

passage silent_passage(const check_request& request) {
    return {.check = request.wanted.name,
            .steps = {at_rest(request, wait_of(request)), at_rest(request, longer(request, 2_s))},
            .purpose = "silence",
            .choice = request.choice};
}

std::vector<swung_jack> swung_jacks(const check_request& request) {
    std::vector<swung_jack> out;
    for (const auto& jack : request.module.drive) {
        const bool is_fed = std::ranges::any_of(
            request.desk.outputs, [&](const auto& output) { return output.jack == jack.name; });
        if (is_fed && jack.name != "gate") out.push_back({jack.name, jack.low, jack.high});
    }
    return out;
}

passage swung_passage(const check_request& request, const swung_jack& jack) {
    const seconds half{0.5 / swing_pitch.value()};
    const auto halves = static_cast<int>(std::round(longer(request, 0.4_s) / half));
    passage out{.check = request.wanted.name,
                .steps = {at_rest(request, wait_of(request))},
                .purpose = jack.name + " swings while the gate is low",
                .choice = request.choice};
    for (int i = 0; i < halves; ++i) {
        step s = at_rest(request, half);
        const volts at = i % 2 == 0 ? jack.low : jack.high;
        if (jack.name == "pitch")
            s.pitch = at;
        else
            s.others[jack.name] = at;
        out.steps.push_back(std::move(s));
    }
    return out;
}

}  // namespace cvrig
