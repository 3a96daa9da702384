#include "rig/checks/slide_range.hpp"

#include <algorithm>
#include <cmath>

#include "rig/checks/listening.hpp"
#include "rig/checks/slide_fit.hpp"
#include "rig/checks/slide_passages.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

using namespace literals;
using namespace slide_steps;

constexpr const char* key = "slide time";

const voltage_step& slide_of(const check_request& request) {
    return request.wanted.find<std::vector<voltage_step>>("step", request.choice)->front();
}

// Three time constants are 95 % of the way: enough, since its end is known beforehand.
seconds slide_length(const check_request& request) {
    const auto* wanted = request.wanted.find<limit>(key, request.choice);
    const double tau_s = wanted != nullptr && wanted->upper ? *wanted->upper : 0.1;
    return (seconds{3.0 * tau_s} + 90_ms) * std::pow(1.5, request.attempt - 1);
}

std::vector<passage> plan(const check_request& request) {
    const auto& s = slide_of(request);
    return {
        {.check = request.wanted.name,
         .steps = {{.length = 20_ms, .pitch = s.from},
                   {.length = 0.18_s, .pitch = s.from, .gate = true},
                   {.length = slide_length(request), .pitch = s.to, .gate = true, .slide = true}},
         .purpose = "a slide from " + name_of(s),
         .choice = request.choice}};
}

check_result judge_slide_range(const check_request& request, std::span<const heard_passage> heard) {
    findings out{request};
    const auto& s = slide_of(request);
    const auto& law = request.module.pitch;
    const auto lead = pitch_near(part_of_step(heard[0], 0, first_note, slide_attack, 1_ms),
                                 heard[0].rate, law.pitch(s.from));
    const hertz from = lead ? lead->pitch : law.pitch(s.from);
    const double u_from = lead ? std::max(lead->u_pitch / lead->pitch, 1e-5) : 0.003;
    const auto slide =
        fit_slide(request, heard[0], {slid, from, law.pitch(s.to), u_from, key}, name_of(s));
    if (slide.glide) {
        const double tau_s = slide.glide->time_constant.value();
        // A module computes its slides in blocks, which no single slide shows: one part in ten thousand
        // in the demo module (scripts/coverage).
        constexpr double blocks = 1e-4;
        // Where a slide strikes the filter anew, its opening turns the phase like a slide would; the
        // fit, less sure by ten times then, tells the two apart half as well again as it says (type B,
        // scripts/coverage).
        constexpr double struck_anew = 1e-3, told_apart = 1.1;
        const double u_fit = slide.glide->u_time_constant.value();
        const double u_filter = u_fit > struck_anew * tau_s ? told_apart * u_fit : 0.0;
        out.add(key, make_reading(tau_s, dimension::seconds,
                                  {{"slide fit", u_fit},
                                   {"filter that opens meanwhile", u_filter},
                                   {"blocks of the module", blocks * tau_s},
                                   {"sample clock", request.desk.u_clock_ppm * 1e-6 * tau_s}},
                                  slide.name));
    } else {
        out.doubt(key, slide.glide.error(), slide.name);
    }
    check_result result;
    result.findings = std::move(out).take();
    return result;
}

}  // namespace

check slide_range_check() {
    using form = key_spec::form;
    return {.spec = {.name = "slide range",
                     .plays = "one slide for each position of the knob",
                     .reads = "how long a slide takes at each position of its knob",
                     .keys = {{.name = "step",
                               .kind = form::steps,
                               .meaning = "the slide to play; the first of the list is used",
                               .required = true},
                              {.name = key,
                               .unit = dimension::seconds,
                               .meaning = "the slide's time constant is"}}},
            .plan = plan,
            .judge = judge_slide_range};
}

}  // namespace cvrig
