#include <algorithm>
#include <cmath>

#include "analysis/strike_tracks.hpp"

namespace cvrig::analysis {
namespace {

constexpr seconds after_step{0.300};
constexpr seconds before_step{0.100};
constexpr seconds before_strike{0.045};

seconds length_of(std::span<const double> x, sample_rate rate) noexcept {
    return seconds{static_cast<double>(x.size()) / rate.value()};
}

/// Pitches of both notes as they really are.
struct pitches {
    hertz from, to;
};

outcome<pitches> find_pitches(const strike_case& c) {
    const seconds start = c.struck_at + seconds{0.010};
    const seconds end = c.struck_at + c.wait + seconds{0.15};
    const auto from = held_pitch(c.reference_from, c.rate, c.from, start, end);
    if (!from) return refuse(from.error());
    const auto to = held_pitch(c.reference_to, c.rate, c.to, start, end);
    if (!to) return refuse(to.error());
    // Below a few cents nothing glides; one pitch for both keeps the blend from dividing by
    // nothing.
    if (std::abs(interval(*to, *from).value()) < 5.0) return pitches{*from, *from};
    return pitches{*from, *to};
}

/// How far the pitch has come, 0 to 1; a step without an interval is through at once.
double blend_at(hertz pitch, const pitches& p, double u_s) noexcept {
    if (p.from == p.to) return u_s > 0.0 ? 1.0 : 0.0;
    return std::clamp(std::log(pitch / p.from) / std::log(p.to / p.from), 0.0, 1.0);
}

void lay_clock(strike_tracks& t, const pitches& p, const pitch_line& line, const cycle_plan& plan,
               seconds step_at) {
    t.first_after = 0;
    for (std::size_t j = 0; j < t.step.size(); ++j) {
        const double u =
            (t.step.first_age - t.wait).value() + static_cast<double>(j) * strike_hop.value();
        const hertz pitch = u < 0.0 ? p.from : pitch_at(line, step_at + seconds{u});
        t.u_s.push_back(u);
        t.blend.push_back(u < 0.0 ? 0.0 : blend_at(pitch, p, u));
        t.half_s.push_back(half_window(plan, pitch).value());
        if (u < t.half_s.back()) t.first_after = j + 1;
    }
}

}  // namespace

outcome<strike_tracks> track_strike(const strike_case& c) {
    const auto p = find_pitches(c);
    if (!p) return refuse(p.error());
    const auto [low, high] = std::minmax(p->from, p->to);
    const auto plan = plan_cycles({low, high, seconds{0.012}, 1.0, hertz{10000.0}}, c.rate);
    const auto noise = noise_lines(c, plan);

    const seconds step_at = c.struck_at + c.wait;
    const seconds margin = half_window(plan, low);
    const seconds shortest =
        std::min({length_of(c.reference_from, c.rate), length_of(c.reference_to, c.rate),
                  length_of(c.step, c.rate)});
    const seconds after = std::min(after_step, shortest - step_at - margin);
    if (after < margin + seconds{0.08}) return refuse(refusal::too_short);
    const seconds before = std::min(before_step, c.wait - seconds{0.015});
    const pitch_line line = follow_step(c, p->from, p->to, plan);

    strike_tracks t;
    t.wait = c.wait;
    t.octaves = std::abs(to_octaves(interval(p->to, p->from)).value());
    t.noise_v2 = noise.front();
    t.from = track_note(c.reference_from, c, constant_pitch(p->from), plan, noise, -before_strike,
                        c.wait + after);
    t.to = track_note(c.reference_to, c, constant_pitch(p->to), plan, noise, -before_strike,
                      c.wait + after);
    t.step = track_note(c.step, c, line, plan, noise, c.wait - before, c.wait + after);
    lay_clock(t, *p, line, plan, step_at);
    const double loudest = std::exp(2.0 * std::ranges::max(t.from.log_level));
    if (loudest < 25.0 * t.noise_v2) return refuse(refusal::silent);
    return t;
}

}  // namespace cvrig::analysis
