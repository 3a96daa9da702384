#include "rig/checks/filter_closing.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "rig/checks/listening.hpp"

namespace cvrig {

namespace {

using namespace literals;
using analysis::closing_filter_reading;
using analysis::outcome;

constexpr seconds attack = 20_ms;
constexpr seconds clear = 1_ms;
// A digital sawtooth with smoothed steps is weaker above.
constexpr hertz highest_heard = 4_kHz;
constexpr std::size_t window_periods = 2;
constexpr double to_spare = 1.01;
// Harmonics that change leak into each other by an amount that hangs on where in its period a window
// begins. So much between windows (the golden ratio) lays them evenly over the period.
constexpr double hop_periods = 1.618;

// From what was read wrongly of a thousand simulated voices (scripts/coverage): what the harmonics
// leave in each other while they change; and a filter follows its cutoff late, the later the further it
// has closed, so that the time constant seems longer by a share of an oscillation of the resting cutoff
// over 2 pi.
constexpr double u_moving_share = 0.0004;
constexpr double delay_share = 0.3, u_delay_share = 0.15;
// What harmonics leave in each other scatters in part alike in two notes of one filter: the correlation.
constexpr double alike = 0.2;

using moments = std::vector<analysis::heard_harmonics>;

outcome<moments> moments_of(std::span<const double> note, const heard_passage& heard, hertz pitch,
                            std::span<const std::size_t> numbers) {
    const double rate = heard.rate.value();
    const double period = rate / pitch.value();
    const auto length = static_cast<std::size_t>(
        std::llround(static_cast<double>(window_periods) * to_spare * period));
    moments out;
    for (double at = 0.0; at + static_cast<double>(length) <= static_cast<double>(note.size());
         at += hop_periods * period) {
        const auto begin = static_cast<std::size_t>(at);
        auto levels = analysis::windowed_levels(note.subspan(begin, length), heard.rate, pitch,
                                                numbers, noise_of(heard.silence[0]));
        if (!levels) return analysis::refuse(levels.error());
        const double middle = static_cast<double>(begin) + 0.5 * static_cast<double>(length - 1);
        out.push_back({attack + seconds{middle / rate}, std::move(*levels)});
    }
    return out;
}

outcome<closing_filter_reading> closing_of(const moments& all, hertz pitch,
                                           const std::optional<analysis::known_rest>& rest) {
    std::vector<double> sawtooth;
    if (!all.empty())
        for (const auto& level : all.front().levels)
            sawtooth.push_back(1.0 / static_cast<double>(level.number));
    return analysis::measure_closing_filter(
        all, sawtooth,
        {.pitch = pitch,
         .window_deviation = analysis::harmonic_window_deviation(window_periods, pitch),
         .rest = rest});
}

moments only_odd(moments all) {
    for (auto& m : all)
        std::erase_if(m.levels, [](const auto& level) { return level.number % 2 == 0; });
    return all;
}

seconds oscillation_over_2_pi(const analysis::closing_reading& closing) {
    return seconds{1.0 / (2.0 * std::numbers::pi * std::exp2(closing.resting.value()))};
}

}  // namespace

outcome<closing_filter_reading> hear_closing(const heard_passage& heard, std::size_t index,
                                             hertz pitch,
                                             std::optional<analysis::known_rest> rest) {
    const auto note = part_of_step(heard, 0, index, attack, clear);
    if (!sounds(heard, 0, note)) return analysis::refuse(analysis::refusal::silent);
    const auto numbers =
        analysis::harmonics_up_to(std::min(highest_heard, 0.42 * hertz{heard.rate.value()}), pitch);
    auto all = moments_of(note, heard, pitch, numbers);
    if (!all) return analysis::refuse(all.error());
    const auto closing = closing_of(*all, pitch, rest);
    if (closing || closing.error() != analysis::refusal::no_fit) return closing;
    return closing_of(only_odd(std::move(*all)), pitch, rest);
}

seconds time_constant_of(const analysis::closing_filter_reading& heard) {
    return heard.closing.time_constant - delay_share * oscillation_over_2_pi(heard.closing);
}

std::vector<analysis::contribution> closing_budget(const check_request& request,
                                                   const analysis::closing_filter_reading& heard) {
    const auto& closing = heard.closing;
    const double tau = time_constant_of(heard).value();
    return {{"scatter of the harmonics", closing.u_time_constant.value()},
            {"wave that is no exact sawtooth", heard.u_source.value()},
            {"filter that moves while it is heard", u_moving_share * tau},
            {"delay of the filter itself", u_delay_share * oscillation_over_2_pi(closing).value()},
            {"filter that may be digital", heard.u_digital.value()},
            {"sample clock", request.desk.u_clock_ppm * 1e-6 * tau}};
}

std::vector<analysis::contribution> ratio_budget(const analysis::closing_filter_reading& a,
                                                 const analysis::closing_filter_reading& b) {
    const auto& x = a.closing;
    const auto& y = b.closing;
    const double ratio = x.time_constant / y.time_constant;
    const double u_x = x.u_time_constant / x.time_constant;
    const double u_y = y.u_time_constant / y.time_constant;
    const double scatter = std::sqrt(u_x * u_x + u_y * u_y - 2.0 * alike * u_x * u_y);
    // One filter: what it delays, it delays for both, and nothing of that was seen in simulated ratios;
    // and it bends for both.
    const double digital = a.u_digital / x.time_constant - b.u_digital / y.time_constant;
    return {{"scatter of the harmonics", ratio * scatter},
            {"filter that may be digital", ratio * std::abs(digital)}};
}

}  // namespace cvrig
