#include "rig/checks/slide_fit.hpp"

#include <algorithm>

#include "rig/checks/listening.hpp"
#include "rig/checks/slide_passages.hpp"

namespace cvrig {

namespace {

using namespace literals;
using namespace slide_steps;

// A slide is fitted from some periods before it starts until its end.
constexpr seconds fitted_before = 105_ms;

// A twentieth of the tolerance decides nothing; what is still unsure then gets the best model.
seconds u_enough(const check_request& request, const char* key) {
    constexpr double share = 0.05;
    const auto* wanted = request.wanted.find<limit>(key, request.choice);
    if (request.attempt > 1 || wanted == nullptr || !wanted->upper) return 0_s;
    const double lower = wanted->lower.value_or(0.0);
    return seconds{share * (wanted->lower ? 0.5 : 1.0) * (*wanted->upper - lower)};
}

}  // namespace

heard_slide fit_slide(const check_request& wanted, const heard_passage& heard,
                      const slide_bounds& b, std::string name) {
    const std::size_t start = heard.step_starts[b.step];
    const auto before = static_cast<std::size_t>(fitted_before.value() * heard.rate.value());
    const std::size_t earliest =
        heard.step_starts[b.step - 1] +
        static_cast<std::size_t>(slide_attack.value() * heard.rate.value());
    const std::size_t begin = std::max(start > before ? start - before : 0, earliest);
    const std::size_t end =
        b.step + 1 < heard.step_starts.size() ? heard.step_starts[b.step + 1] : heard.end;
    analysis::glide_request request;
    request.from = b.from;
    request.to = b.to;
    request.relative_u_from = b.relative_u_from;
    request.relative_u_to = 0.01;
    request.expected_start = seconds{static_cast<double>(start - begin) / heard.rate.value()};
    request.u_start = 3_ms;
    request.noise_rms = noise_of(heard.silence[0]);
    request.u_enough = u_enough(wanted, b.demand);
    if (b.slid_before)
        request.earlier = analysis::earlier_glide{
            *b.slid_before, seconds{static_cast<double>(start - heard.step_starts[b.step - 1]) /
                                    heard.rate.value()}};
    const auto record = part(heard.volts[0], begin, end > 24 ? end - 24 : end);
    heard_slide out{.name = std::move(name),
                    .glide = analysis::measure_glide(record, heard.rate, request),
                    .rough_overshoot = {},
                    .begins = begin};
    if (out.glide) out.late = out.glide->start - request.expected_start;
    if (out.glide || out.glide.error() != analysis::refusal::no_fit) return out;
    if (const auto rough = analysis::measure_overshoot(record, heard.rate, request))
        out.rough_overshoot = *rough;
    return out;
}

analysis::outcome<analysis::tone_reading> tail_pitch(const heard_passage& heard, std::size_t step,
                                                     seconds length, hertz expected) {
    const std::size_t last =
        step + 1 < heard.step_starts.size() ? heard.step_starts[step + 1] : heard.end;
    const auto count = static_cast<std::size_t>(length.value() * heard.rate.value());
    return pitch_near(part(heard.volts[0], last > count ? last - count : 0, last - 24), heard.rate,
                      expected);
}

heard_slide fit_single_slide(const check_request& request, const heard_passage& heard,
                             const voltage_step& s) {
    const auto& law = request.module.pitch;
    hertz from = law.pitch(s.from);
    double relative_u = 0.003;
    if (const auto lead =
            pitch_near(part_of_step(heard, 0, first_note, slide_attack, 1_ms), heard.rate, from)) {
        from = lead->pitch;
        relative_u = std::max(lead->u_pitch / lead->pitch, 1e-5);
    }
    return fit_slide(request, heard, {slid, from, law.pitch(s.to), relative_u}, name_of(s));
}

}  // namespace cvrig
