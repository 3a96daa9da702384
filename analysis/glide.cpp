#include "analysis/glide.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "analysis/glide_course.hpp"
#include "analysis/glide_solve.hpp"
#include "analysis/samples.hpp"

namespace cvrig::analysis {

using namespace gliding;

namespace {

constexpr double least_interval_cents = 10.0;
constexpr double least_known_tau = 0.5;  // u(tau) over tau
constexpr double jump_s = 0.002;         // so short a tau is a jump whatever its uncertainty

bool sensible(sample_rate rate, const glide_request& r) {
    const double fs = rate.value();
    const auto in_range = [&](hertz f) { return f.value() >= 20 && f.value() <= fs / 10; };
    const bool sensible_before =
        !r.earlier || (in_range(r.earlier->from) && r.earlier->since.value() > 0);
    return fs >= 16000 && in_range(r.from) && in_range(r.to) && sensible_before &&
           r.relative_u_from > 0 && r.relative_u_to > 0 && r.u_start.value() > 0 &&
           r.noise_rms.value() >= 0 && r.mains.value() > 0 &&
           std::abs(interval(r.to, r.from).value()) <= 4 * 1200 + 1;
}

std::optional<refusal> unusable(std::span<const double> volts, sample_rate rate,
                                const glide_request& r) {
    if (!sensible(rate, r)) return refusal::bad_argument;
    if (!all_finite(volts)) return refusal::not_finite;
    const double length = static_cast<double>(volts.size()) / rate.value();
    const double before = std::max(0.06, 4 / r.from.value());
    if (r.expected_start.value() < before || length < r.expected_start.value() + 0.09)
        return refusal::too_short;
    const auto [low, high] = std::minmax_element(volts.begin(), volts.end());
    if (*high - *low < 10 * r.noise_rms.value() || *high == *low) return refusal::silent;
    if (std::abs(interval(r.to, r.from).value()) < least_interval_cents)
        return refusal::no_contrast;
    return std::nullopt;
}

glide_reading reading_of(solution& s, const glide_request& request) {
    const auto& law = s.fit.state.law;
    const double origin = request.expected_start.value();
    const auto u = uncertainty_of(s.fit, s.model.window(), s.prior);
    glide_reading out;
    out.from = hertz{law.from_hz()};
    out.to = hertz{law.to_hz()};
    // A pitch is held by its many steady cycles, not by the shape of the glide.
    out.u_from = hertz{law.from_hz() * u.u[ln_from]};
    out.u_to = hertz{law.to_hz() * u.u[ln_to]};
    out.time_constant = seconds{s.main_part ? s.main_part->tau_s : law.tau_s()};
    out.u_time_constant = seconds{s.main_part ? s.main_part->u_tau_s : s.u_tau_s()};
    out.start = seconds{law.start_s() + origin};
    out.u_start = seconds{u.u[at_start]};
    out.shape = law.shape;
    out.shape_decided = s.shape_decided;
    out.residual = to_decibels(std::sqrt(s.fit.rss / static_cast<double>(s.fit.residual.size())) /
                               s.fit.signal_rms);
    out.earlier = request.earlier;
    out.course = course_of(s.record, law, origin);
    const auto overshoot = overshoot_of(out.course, law, origin);
    out.overshoot = overshoot.beyond;
    out.u_overshoot = overshoot.u_beyond;
    return out;
}

}  // namespace

outcome<glide_reading> measure_glide(std::span<const double> volts, sample_rate rate,
                                     const glide_request& request) {
    if (const auto why = unusable(volts, rate, request)) return refuse(*why);
    auto solved = solve_glide(volts, rate.value(), request);
    if (!solved) return refuse(solved.error());
    if (!solved->explains()) return refuse(refusal::no_fit);
    const auto reading = reading_of(*solved, request);
    const double u = reading.u_time_constant.value();
    if (!(u < std::max(least_known_tau * reading.time_constant.value(), jump_s)))
        return refuse(refusal::no_fit);
    return reading;
}

outcome<overshoot_reading> measure_overshoot(std::span<const double> volts, sample_rate rate,
                                             const glide_request& request) {
    if (const auto why = unusable(volts, rate, request)) return refuse(*why);
    const auto located = locate_glide(volts, rate.value(), request);
    if (!located) return refuse(located.error());
    const double origin = request.expected_start.value();
    return overshoot_of(course_of(located->record, located->law, origin), located->law, origin);
}

hertz glide_pitch(const glide_reading& reading, seconds at) {
    const glide_law law{reading.shape,
                        {std::log(reading.from.value()), std::log(reading.to.value()),
                         std::log(reading.time_constant.value()), reading.start.value()},
                        before_of(reading.earlier)};
    return hertz{phase_law{law}(at.value()).pitch_hz};
}

}  // namespace cvrig::analysis
