#include "rig/checks/slide_interrupted.hpp"

#include <cmath>

#include "analysis/course.hpp"
#include "rig/checks/listening.hpp"
#include "rig/checks/slide_passages.hpp"

namespace cvrig {

using namespace slide_steps;

namespace {

constexpr seconds compared{0.045};
// A module on a clock of its own sees each step late by some part of its period, which is a sample at
// least: a rectangular distribution (GUM 4.3.7).
constexpr double rectangular = 0.2887;  // 1 / sqrt(12)

/// How late a module may see a step, beyond what it always is: a sample, or as far as two of its slides
/// differ in that, which shows how long its blocks are.
seconds uneven_start(const heard_slide& a, const heard_slide& b, double rate) {
    const double sample_s = 1.0 / rate;
    const double differ_s = std::abs((a.late - b.late).value());
    const double u_s = std::hypot(a.glide->u_start.value(), b.glide->u_start.value());
    return seconds{std::max(sample_s, differ_s - 2.0 * u_s)};
}

/// The slide back at successive samples, from so long after it has started.
std::vector<hertz> course_of(const analysis::glide_reading& back, double after_s, std::size_t count,
                             double rate) {
    std::vector<hertz> out;
    for (std::size_t n = 0; n < count; ++n)
        out.push_back(
            glide_pitch(back, back.start + seconds{after_s + static_cast<double>(n) / rate}));
    return out;
}

/// The interrupted slide, and the same from a whole slide back.
struct turn {
    double lasted;   ///< of the slide that was interrupted, in its time constants
    double made;     ///< part of the way that this had made
    double later_s;  ///< so far into a whole slide back it passes the same pitch
};

turn turn_of(const interruption& i, const analysis::glide_reading& first) {
    const auto& starts = i.interrupted.step_starts;
    const double rate = i.interrupted.rate.value();
    const double tau_s = first.time_constant.value();
    const double lasted = static_cast<double>(starts[second_slid] - starts[slid]) / rate / tau_s;
    const double whole =
        static_cast<double>(i.whole.step_starts[second_slid] - i.whole.step_starts[slid]) / rate /
        tau_s;
    const double made = 1.0 - std::exp(-lasted);
    // The whole slide back sets off from where the first had got to.
    const double made_before_whole = 1.0 - std::exp(-whole);
    return {lasted, made,
            -i.back.glide->time_constant.value() * std::log(made / made_before_whole)};
}

std::vector<analysis::contribution> budget_of(const interruption& i, const heard_slide& first,
                                              const turn& t, double u_moving_cents) {
    const auto& back = *i.back.glide;
    const double whole_cents = std::abs(interval(back.from, back.to).value());
    const double tau_s = back.time_constant.value();
    // When this turns, when the one before started, and when the whole one turned.
    const double turns = rectangular * std::hypot(1.0, 1.0 - t.made, t.made);
    const double u_turn_s =
        std::hypot(turns * uneven_start(first, i.back, i.interrupted.rate.value()).value(),
                   t.made * back.u_start.value());
    // Where it turned, and where the whole slide passes that; a voice that bends one time constant
    // bends the other the same way.
    const double by_first = t.lasted * std::exp(-t.lasted) *
                            (first.glide->u_time_constant / first.glide->time_constant);
    const double by_back =
        t.made * std::abs(std::log(t.made)) * (back.u_time_constant / back.time_constant);
    return {{"pitch of the moving tone", u_moving_cents},
            {"instant of the turn", whole_cents * u_turn_s / tau_s},
            {"time constants", whole_cents * (by_first + by_back)}};
}

}  // namespace

void judge_interrupted(findings& out, const check_request& request, const interruption& i,
                       const heard_slide& first) {
    if (!first.glide) return out.doubt("interrupted", first.glide.error(), first.name);
    if (!i.back.glide) return out.doubt("interrupted", i.back.glide.error(), i.back.name);
    const double rate = i.interrupted.rate.value();
    const double tau = i.back.glide->time_constant.value();
    const auto t = turn_of(i, *first.glide);
    const auto count = static_cast<std::size_t>(compared.value() * rate);
    const auto offset = [&](const heard_passage& heard, double from_s) {
        const auto samples = std::llround(from_s * rate);
        const auto begin = heard.step_starts[second_slid] + static_cast<std::size_t>(samples);
        const auto window = part(heard.volts[0], begin, begin + count);
        const double after_s = t.later_s + static_cast<double>(samples) / rate - from_s;
        const auto course = course_of(*i.back.glide, after_s, window.size(), rate);
        return analysis::measure_offset(window, course, heard.rate, noise_of(heard.silence[0]));
    };
    const auto a = offset(i.interrupted, i.back.late.value());
    const auto b = offset(i.whole, i.back.late.value() + t.later_s);
    if (!a || !b)
        return out.doubt("interrupted", a ? b.error() : a.error(), "the interrupted slide");
    // An error at the turn decays with the slide; this is what is left of it on average between the
    // windows' centres.
    const double first_centre = compared.value() / 3.0;
    const double left =
        tau / first_centre * (std::exp(-first_centre / tau) - std::exp(-2.0 * first_centre / tau));
    const double u_moving = std::hypot(a->u_offset.value(), b->u_offset.value()) / left;
    out.add("interrupted", make_reading((a->offset - b->offset).value() / left, dimension::cents,
                                        budget_of(i, first, t, u_moving),
                                        name_of(featured_slide(request)) + " and back"));
}

}  // namespace cvrig
