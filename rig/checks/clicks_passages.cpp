#include "rig/checks/clicks_passages.hpp"

#include <algorithm>
#include <cmath>

#include "rig/checks/listening.hpp"

namespace cvrig {

using namespace literals;

namespace {

constexpr seconds ramp_length = 0.75_s;
constexpr volts usual_pitch_way = 0.5_V;
constexpr volts usual_cutoff_way = 2_V;

volts top_of(const check_request& request, const char* jack, volts otherwise) {
    const auto* found = request.module.find_jack(jack);
    return found == nullptr ? otherwise : found->high;
}

volts note_of(const check_request& request) {
    return volts{parameter(request, "note", request.module.pitch.at.value() + 1.0)};
}

bool has_jack(const check_request& request, const char* jack) {
    return request.module.find_jack(jack) != nullptr;
}

bool demands_any(const check_request& request, std::initializer_list<const char*> keys) {
    return std::ranges::any_of(keys, [&](const char* key) {
        return request.wanted.find<limit>(key, request.choice) != nullptr;
    });
}

class scene {
public:
    explicit scene(const check_request& request) : at_{note_of(request)} {
        plan_.passages.push_back({.check = request.wanted.name,
                                  .steps = {},
                                  .purpose = "notes, slides and jumps in which nothing may click",
                                  .choice = request.choice});
    }

    step& rest(seconds length, const char* name) {
        return add({.length = length, .pitch = at_}, name);
    }
    step& note(seconds length, const char* name) {
        return add({.length = length, .pitch = at_, .gate = true}, name);
    }
    void move_to(volts to) { at_ = to; }
    [[nodiscard]] volts at() const { return at_; }
    [[nodiscard]] clicks_plan take() && { return std::move(plan_); }

private:
    step& add(step s, const char* name) {
        plan_.scene_names.emplace_back(name);
        return plan_.passages.front().steps.emplace_back(std::move(s));
    }

    clicks_plan plan_;
    volts at_;
};

clicks_plan a_scene(const check_request& request) {
    scene s{request};
    const volts low = s.at();
    const volts octave_up = std::min(low + 1_V, top_of(request, "pitch", low + 1_V));
    const double longer = std::pow(1.5, request.attempt - 1);
    s.rest(20_ms, "the rest before the first note");
    s.note(0.4_s * longer, "the held note");
    s.rest(15_ms, "the end of the held note");
    s.note(90_ms, "a new note");
    s.rest(5_ms, "a short gap");
    s.note(90_ms, "a note struck again in mid-decay");
    s.rest(10_ms, "a short gap");
    s.note(90_ms, "an accented note").accent = has_jack(request, "accent");
    s.rest(10_ms, "the end of the accented note");
    s.note(0.1_s, "the note before the slides");
    const bool slides = has_jack(request, "slide");
    // Several, since a click that falls onto an edge of the wave is not heard.
    for (const seconds length : {0.11_s, 0.117_s, 0.123_s}) {
        s.move_to(octave_up);
        s.note(length, "a slide up").slide = slides;
        s.move_to(low);
        s.note(length, "a slide down").slide = slides;
    }
    s.move_to(low + volts{7.0 / 12.0} < octave_up ? low + volts{7.0 / 12.0} : octave_up);
    s.note(60_ms, "a jump of the pitch");
    if (const auto* cutoff = request.module.find_jack("cutoff")) {
        const volts half = 0.5 * (cutoff->low + cutoff->high);
        s.note(60_ms, "a jump of the cutoff").others["cutoff"] = half;
        s.note(60_ms, "a jump of the cutoff");
    }
    s.rest(40_ms, "the end of the last note");
    return std::move(s).take();
}

passage a_ramp(const check_request& request, std::string purpose) {
    // Two octaves up: more periods in the same time show finer steps of time.
    const volts top = top_of(request, "pitch", 5_V) - usual_pitch_way;
    const volts at = std::min(note_of(request) + 2_V, top);
    const double longer = std::pow(1.5, request.attempt - 1);
    passage p{.check = request.wanted.name,
              .steps = {{.length = 20_ms, .pitch = at},
                        {.length = 0.1_s, .pitch = at, .gate = true},
                        {.length = ramp_length * longer, .pitch = at, .gate = true}},
              .purpose = std::move(purpose),
              .choice = request.choice};
    return p;
}

passage a_pitch_ramp(const check_request& request) {
    passage p = a_ramp(request, "a slow way of the pitch");
    auto& ramp = p.steps[ramp_step];
    ramp.from["pitch"] = ramp.pitch;
    ramp.pitch += usual_pitch_way;
    return p;
}

passage a_cutoff_ramp(const check_request& request, const driven_jack& cutoff) {
    passage p = a_ramp(request, "a slow way of the cutoff");
    const double range = (cutoff.high - cutoff.low).value();
    const volts from = cutoff.low + volts{0.2 * range};
    const volts way = std::min(usual_cutoff_way, volts{0.4 * range});
    for (auto& s : p.steps) s.others["cutoff"] = from;
    auto& ramp = p.steps[ramp_step];
    ramp.from["cutoff"] = from;
    ramp.others["cutoff"] = from + way;
    return p;
}

}  // namespace

clicks_plan plan_clicks(const check_request& request) {
    auto out = a_scene(request);
    if (demands_any(request, {"pitch steps", "pitch step rate"})) {
        out.pitch_ramp = out.passages.size();
        out.passages.push_back(a_pitch_ramp(request));
    }
    const auto* cutoff = request.module.find_jack("cutoff");
    if (cutoff != nullptr && demands_any(request, {"cutoff steps", "cutoff step rate"})) {
        out.cutoff_ramp = out.passages.size();
        out.passages.push_back(a_cutoff_ramp(request, *cutoff));
    }
    return out;
}

hertz highest_pitch(const check_request& request, const passage& p) {
    hertz most{0.0};
    for (const auto& s : p.steps) most = std::max(most, request.module.pitch.pitch(s.pitch));
    return most;
}

}  // namespace cvrig
