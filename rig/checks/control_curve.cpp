#include "rig/checks/control_curve.hpp"

#include <algorithm>
#include <cmath>

#include "rig/checks/cutoff_stair.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

using namespace literals;

namespace {

constexpr std::size_t levels = 5;
constexpr seconds wait = 0.5_s;
constexpr seconds held = 50_ms;
constexpr const char* noise_of_it = "noise";
constexpr const char* wave_of = "wave that is no exact sawtooth";
constexpr const char* moving_of = "filter that still closes";
constexpr const char* rest_of = "rest of the filter's envelope";
constexpr const char* law_of = "envelope that is no exact exponential";

octaves u_of_wave(const stair_step& s) {
    const double others = std::hypot(s.u_envelope().value(), s.u_moves.value(), s.u_noise.value());
    return octaves{std::sqrt(std::max(0.0, std::pow(s.u_cutoff.value(), 2) - others * others))};
}

octaves part_of(const reading& r, const char* name) {
    for (const auto& part : r.budget)
        if (part.name == name) return octaves{part.standard_uncertainty};
    return octaves{0.0};
}

// How alike a wave moves the readings of two cutoffs: the same harmonics lie about them if they are
// near (type B, from simulated units: scripts/coverage).
double likeness(octaves a, octaves b) {
    constexpr octaves reach{0.25};
    const double apart = (a - b) / reach;
    return std::exp(-apart * apart);
}

// Of a point against the curve between a and b, `share` of the way.
octaves u_of_wave(const curve_point& a, const curve_point& b, double share,
                  const curve_point& point) {
    const double left = (1.0 - share) * a.u_wave.value(), right = share * b.u_wave.value();
    const double own = point.u_wave.value();
    const double variance = left * left + right * right + own * own +
                            2.0 * left * right * likeness(a.cutoff, b.cutoff) -
                            2.0 * left * own * likeness(a.cutoff, point.cutoff) -
                            2.0 * right * own * likeness(b.cutoff, point.cutoff);
    return octaves{std::sqrt(std::max(0.0, variance))};
}

double octaves_per_volt(const curve_point& a, const curve_point& b) {
    return (b.cutoff - a.cutoff).value() / (b.at - a.at).value();
}

// How a curve bends, in octaves per volt for each volt: the median of its second derivatives.
double bend_of(std::span<const curve_point> curve) {
    std::vector<double> bends;
    for (std::size_t i = 2; i < curve.size(); ++i) {
        const double turns =
            octaves_per_volt(curve[i - 1], curve[i]) - octaves_per_volt(curve[i - 2], curve[i - 1]);
        bends.push_back(std::abs(turns) / (0.5 * (curve[i].at - curve[i - 2].at).value()));
    }
    std::ranges::sort(bends);
    return bends[bends.size() / 2];
}

// What a bent curve departs from the straight line through two of its points, between and beyond them.
octaves off_line(double bend, volts apart, double share) {
    return octaves{0.5 * bend * apart.value() * apart.value() * std::abs(share * (1.0 - share))};
}

}  // namespace

std::vector<passage> curve_passages(const check_request& request) {
    const double longer = std::pow(1.5, request.attempt - 1);
    const auto voltages = levels_over(range_of(request, "cutoff"), levels);
    // At the bottom: with the knob beside it, the envelope must not open the filter beyond what is
    // heard of it.
    return {cutoff_stair(request, wait * longer, voltages[0], voltages, held * longer)};
}

check_result note_curve(const check_request& request, std::span<const heard_passage> heard,
                        std::initializer_list<const char*> keys) {
    check_result result;
    findings out{request};
    const auto stair = hear_stair(request, heard[0]);
    if (stair) {
        for (const auto& s : stair->steps) {
            if (!s.heard()) continue;
            auto r = make_reading(s.cutoff.value(), dimension::ratio,
                                  {{noise_of_it, s.u_noise.value()},
                                   {wave_of, u_of_wave(s).value()},
                                   {moving_of, s.u_moves.value()},
                                   {rest_of, s.u_rest.value()},
                                   {law_of, s.u_law.value()}},
                                  show(s.at.value(), dimension::volts));
            r.where = s.at.value();
            result.noted.push_back(std::move(r));
        }
    } else {
        for (const char* key : keys) out.doubt(key, stair.error(), "the held note");
    }
    result.findings = std::move(out).take();
    return result;
}

std::vector<curve_point> curve_of(const check_result& result) {
    std::vector<curve_point> out;
    for (const auto& r : result.noted)
        if (r.where)
            out.push_back({volts{*r.where}, octaves{r.value}, part_of(r, noise_of_it),
                           part_of(r, wave_of), part_of(r, rest_of), part_of(r, moving_of),
                           part_of(r, law_of)});
    std::ranges::sort(out, {}, &curve_point::at);
    return out;
}

std::optional<equal_volts> volts_for(std::span<const curve_point> curve, const curve_point& point) {
    if (curve.size() < 3) return std::nullopt;
    std::size_t i = 1;
    // Where the curve has come to its top, the first voltage that reaches it counts.
    constexpr octaves as_good_as{0.05};
    while (i + 1 < curve.size() && curve[i].cutoff + as_good_as < point.cutoff) ++i;
    const auto& a = curve[i - 1];
    const auto& b = curve[i];
    const double per_volt = octaves_per_volt(a, b);
    if (!(per_volt > 0.0)) return std::nullopt;
    const double along = (point.cutoff - a.cutoff).value() / per_volt;
    const double share = along / (b.at - a.at).value();
    const double u_noise = std::hypot((1.0 - share) * a.u_noise.value(), share * b.u_noise.value(),
                                      point.u_noise.value());
    const auto on_line = [&](octaves curve_point::*part) {
        return (1.0 - share) * (a.*part) + share * (b.*part);
    };
    const auto in_volts = [&](octaves off) { return volts{off.value() / per_volt}; };
    // All were struck alike: an envelope that is unlike its law shifts them together.
    return equal_volts{.at = a.at + volts{along},
                       .by_noise = in_volts(octaves{u_noise}),
                       .by_wave = in_volts(u_of_wave(a, b, share, point)),
                       .by_moving = in_volts(on_line(&curve_point::u_moves) - point.u_moves),
                       .by_bend = in_volts(off_line(bend_of(curve), b.at - a.at, share)),
                       .by_rest_of_curve = in_volts(on_line(&curve_point::u_rest)),
                       .by_rest_of_point = in_volts(point.u_rest),
                       .by_law = in_volts(on_line(&curve_point::u_law) - point.u_law)};
}

std::vector<analysis::contribution> equal_volts::budget() const {
    return {{noise_of_it, by_noise.value()},
            {wave_of, by_wave.value()},
            {moving_of, std::abs(by_moving.value())},
            {"curve between its points", by_bend.value()},
            {rest_of, std::hypot(by_rest_of_curve.value(), by_rest_of_point.value())},
            {law_of, std::abs(by_law.value())}};
}

volts u_of_distance(const check_request& request, volts apart) {
    const auto range = range_of(request, "cutoff");
    return std::sqrt(2.0) * std::abs(apart / (range.high - range.low)) *
           u_of_jack(request, "cutoff");
}

}  // namespace cvrig
