#include "rig/checks/slide_interrupted.hpp"

#include <cmath>

#include "analysis/course.hpp"
#include "rig/checks/listening.hpp"
#include "rig/checks/slide_passages.hpp"

namespace cvrig {

using namespace slide_steps;

namespace {

constexpr seconds compared{0.045};
// A module on a clock of its own sees all steps of a passage late by the same part of a sample, of
// another passage by another: two rectangular distributions (GUM 4.3.7), 1 / sqrt(12) each.
constexpr double turn_u_samples = 0.41;

/// The slide back at successive samples, from so long after it has started.
std::vector<hertz> course_of(const analysis::glide_reading& back, double after_s, std::size_t count,
                             double rate) {
    std::vector<hertz> out;
    for (std::size_t n = 0; n < count; ++n)
        out.push_back(
            glide_pitch(back, back.start + seconds{after_s + static_cast<double>(n) / rate}));
    return out;
}

}  // namespace

void judge_interrupted(findings& out, const check_request& request, const interruption& i,
                       const heard_slide& first) {
    if (!first.glide) return out.doubt("interrupted", first.glide.error(), first.name);
    if (!i.back.glide) return out.doubt("interrupted", i.back.glide.error(), i.back.name);
    const double rate = i.interrupted.rate.value();
    const double tau = i.back.glide->time_constant.value();
    const auto& starts = i.interrupted.step_starts;
    const double lasted = static_cast<double>(starts[second_slid] - starts[slid]) / rate;
    // Part of the way that the first slide had made, and with it how far into a whole slide back
    // the same pitch comes.
    const double made = 1.0 - std::exp(-lasted / first.glide->time_constant.value());
    const double later = -tau * std::log(made);
    const double delay =
        i.back.glide->start.value() -
        static_cast<double>(i.whole.step_starts[second_slid] - i.back.begins) / rate;
    const auto count = static_cast<std::size_t>(compared.value() * rate);
    const auto offset = [&](const heard_passage& heard, double from_s) {
        const double whole = std::round(from_s * rate);
        const auto begin = heard.step_starts[second_slid] + static_cast<std::size_t>(whole);
        const auto window = part(heard.volts[0], begin, begin + count);
        const auto course =
            course_of(*i.back.glide, later + whole / rate - from_s, window.size(), rate);
        return analysis::measure_offset(window, course, heard.rate, noise_of(heard.silence[0]));
    };
    const auto a = offset(i.interrupted, delay);
    const auto b = offset(i.whole, delay + later);
    if (!a || !b)
        return out.doubt("interrupted", a ? b.error() : a.error(), "the interrupted slide");
    // An error at the turn decays with the slide; this is what is left of it on average between the
    // windows' centres.
    const double first_centre = compared.value() / 3.0;
    const double left =
        tau / first_centre * (std::exp(-first_centre / tau) - std::exp(-2.0 * first_centre / tau));
    const double speed =
        made * std::abs(interval(i.back.glide->from, i.back.glide->to).value()) / tau;
    out.add("interrupted",
            make_reading((a->offset - b->offset).value() / left, dimension::cents,
                         {{"pitch of the moving tone",
                           std::hypot(a->u_offset.value(), b->u_offset.value()) / left},
                          {"instant of the turn", speed * std::hypot(i.back.glide->u_start.value(),
                                                                     turn_u_samples / rate)}},
                         name_of(featured_slide(request)) + " and back"));
}

}  // namespace cvrig
