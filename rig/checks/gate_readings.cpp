#include "rig/checks/gate_readings.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <optional>

#include "analysis/note_edge.hpp"
#include "analysis/samples.hpp"
#include "analysis/strike_count.hpp"
#include "rig/checks/gate_timing.hpp"
#include "rig/checks/listening.hpp"

namespace cvrig {

using namespace literals;

namespace {

using analysis::counted_strike;
using analysis::outcome;
using analysis::refusal;
using analysis::refuse;

seconds begin_of(const heard_passage& heard, std::size_t index) {
    const std::size_t sample =
        index < heard.step_starts.size() ? heard.step_starts[index] : heard.end;
    return seconds{static_cast<double>(sample) / heard.rate.value()};
}

outcome<hertz> pitch_of(const check_request& request, const heard_passage& heard,
                        std::span<const std::size_t> steps) {
    return sounding_pitch(heard, request.module.pitch.pitch(gate_note(request)), steps, 14_ms);
}

// Triggers are too short to read a pitch from; a module that is out of tune is heard all the same.
hertz nominal_pitch(const check_request& request) {
    return request.module.pitch.pitch(gate_note(request));
}

outcome<std::vector<counted_strike>> strikes_in(const heard_passage& heard, hertz pitch) {
    return analysis::count_strikes(heard.volts[timed_jack], heard.silence[timed_jack], heard.rate,
                                   {pitch});
}

/// The level of a passage, to find roughly where a note ends.
class level_course {
public:
    level_course(const heard_passage& heard, hertz pitch)
        : course_{analysis::follow_fundamental(heard.volts[timed_jack], heard.rate, pitch)} {}

    /// When the level first lies below half of what it was at `from`.
    [[nodiscard]] std::optional<seconds> falls_after(seconds from, seconds to) const {
        const auto first = index(from);
        const double half = 0.5 * course_.peak_volts[first];
        for (std::size_t i = first; i < index(to); ++i)
            if (course_.peak_volts[i] < half) return course_.spacing * static_cast<double>(i);
        return std::nullopt;
    }

private:
    [[nodiscard]] std::size_t index(seconds t) const {
        return std::min(static_cast<std::size_t>(std::max(0.0, t / course_.spacing)),
                        course_.peak_volts.size() - 1);
    }
    analysis::fundamental_course course_;
};

outcome<seconds> start_near(const heard_passage& heard, hertz pitch, seconds rough) {
    return analysis::measure_note_start(heard.volts[timed_jack], heard.silence[timed_jack],
                                        heard.rate,
                                        {pitch, rough - 7_ms, rough + 28_ms, seconds{0.0}})
        .map([](const auto& edge) { return edge.at; });
}

outcome<seconds> end_near(const heard_passage& heard, hertz pitch, seconds rough) {
    return analysis::measure_note_end(heard.volts[timed_jack], heard.silence[timed_jack],
                                      heard.rate,
                                      {pitch, rough - 24_ms, rough + 20_ms, rough - 11_ms})
        .map([](const auto& edge) { return edge.at; });
}

edge_delay delay_of(std::span<const double> delays_s) {
    // With few edges the deviation itself is uncertain: Student's distribution is wider by this
    // (JCGM 100:2008, G.3).
    const auto n = static_cast<double>(delays_s.size());
    const double widened = std::sqrt((n - 1.0) / std::max(1.0, n - 3.0));
    return {analysis::mean(delays_s),
            widened * analysis::deviation(delays_s) * std::sqrt(n / (n - 1.0)), delays_s.size()};
}

struct hard_edges {
    std::vector<double> rise_s, fall_s;
};

outcome<hard_edges> read_hard_edges(const heard_passage& heard, hertz pitch,
                                    std::span<const std::size_t> notes) {
    hard_edges out;
    const level_course level{heard, pitch};
    refusal why = refusal::silent;
    for (const std::size_t n : notes) {
        const seconds up = begin_of(heard, n);
        const seconds down = begin_of(heard, n + 1);
        const auto start = start_near(heard, pitch, up + 5_ms);
        const auto over = level.falls_after(down - 2_ms, down + 40_ms);
        if (!over) continue;
        const auto end = end_near(heard, pitch, *over);
        if (!start || !end) {
            why = start ? end.error() : start.error();
            continue;
        }
        out.rise_s.push_back((*start - up).value());
        out.fall_s.push_back((*end - down).value());
    }
    if (out.rise_s.size() < 4) return refuse(why);
    return out;
}

double way_volts(const passage& played, std::size_t step_index, seconds since, sample_rate rate) {
    const auto& s = played.steps[step_index];
    const volts from = s.from.at("gate");
    const volts to = s.others.at("gate");
    // The way's first sample already has gone one sample's part of it.
    const double share = (since.value() + 1.0 / rate.value()) / s.length.value();
    return (from + (to - from) * share).value();
}

// How often each gate of a passage struck. What comes before the next gate rises is its own; of the
// window that a strike is seen through, two periods lie either side. Behind the passage the next one
// begins.
std::vector<std::size_t> strikes_of_gates(const heard_passage& heard,
                                          std::span<const counted_strike> strikes, hertz pitch) {
    const seconds early{2.0 / pitch.value()};
    const auto& steps = heard.asked.steps;
    std::vector<std::size_t> out;
    for (std::size_t i = 0; i < steps.size(); ++i) {
        if (!steps[i].gate) continue;
        std::size_t next = i + 1;
        while (next < steps.size() && !steps[next].gate) ++next;
        const seconds from = begin_of(heard, i) - early;
        const seconds to = begin_of(heard, next) - early;
        out.push_back(static_cast<std::size_t>(std::ranges::count_if(
            strikes, [&](const auto& s) { return s.at >= from && s.at < to; })));
    }
    return out;
}

template <class Is>
std::vector<std::size_t> numbers_where(std::span<const std::size_t> counts, Is is) {
    std::vector<std::size_t> out;
    for (std::size_t i = 0; i < counts.size(); ++i)
        if (is(counts[i])) out.push_back(i + 1);
    return out;
}

}  // namespace

outcome<thresholds> read_thresholds(const check_request& request, const heard_passage& heard) {
    const auto tune = slow_gates(request);
    const auto pitch = pitch_of(request, heard, tune.hard_notes);
    if (!pitch) return refuse(pitch.error());
    const auto hard = read_hard_edges(heard, *pitch, tune.hard_notes);
    if (!hard) return refuse(hard.error());
    const auto strikes = strikes_in(heard, *pitch);
    if (!strikes) return refuse(strikes.error());
    const level_course level{heard, *pitch};
    thresholds out{{}, {}, 0.0, 0.0, delay_of(hard->rise_s), delay_of(hard->fall_s), *pitch};
    refusal why = refusal::no_fit;
    for (const auto& g : tune.slow) {
        if (g.rough) continue;
        const seconds up = begin_of(heard, g.rise_step);
        const seconds top = begin_of(heard, g.rise_end);
        const seconds down = begin_of(heard, g.fall_step);
        const auto strike =
            std::ranges::find_if(*strikes, [&](const auto& s) { return s.at > up && s.at < top; });
        const auto over = level.falls_after(down, begin_of(heard, g.fall_end + 1));
        if (strike == strikes->end() || !over) continue;
        const auto start = start_near(heard, *pitch, strike->at);
        const auto end = end_near(heard, *pitch, *over);
        if (!start || !end) {
            why = start ? end.error() : start.error();
            continue;
        }
        out.up_v.push_back(way_volts(tune.played, g.rise_step,
                                     *start - up - seconds{out.rise.mean_s}, heard.rate));
        out.down_v.push_back(way_volts(tune.played, g.fall_step,
                                       *end - down - seconds{out.fall.mean_s}, heard.rate));
    }
    if (out.up_v.empty()) return refuse(why);
    const auto& way = tune.played.steps[tune.slow.front().rise_step];
    const double volts_per_second =
        std::abs((way.others.at("gate") - way.from.at("gate")).value()) / way.length.value();
    const auto n = static_cast<double>(out.up_v.size());
    const auto u = [&](const edge_delay& d) {
        return volts_per_second * d.deviation_s *
               std::sqrt(1.0 / n + 1.0 / static_cast<double>(d.edges));
    };
    out.u_up_v = u(out.rise);
    out.u_down_v = u(out.fall);
    return out;
}

outcome<std::vector<slow_strikes>> count_slow_strikes(const check_request& request,
                                                      const heard_passage& heard) {
    const auto tune = slow_gates(request);
    const auto pitch = pitch_of(request, heard, tune.hard_notes);
    if (!pitch) return refuse(pitch.error());
    const auto strikes = strikes_in(heard, *pitch);
    if (!strikes) return refuse(strikes.error());
    std::vector<slow_strikes> out;
    for (const auto& g : tune.slow) {
        const seconds from = begin_of(heard, g.rise_step);
        const seconds to = begin_of(heard, g.fall_end + 1);
        const auto in = std::ranges::count_if(
            *strikes, [&](const auto& s) { return s.at >= from && s.at < to; });
        out.push_back({g.rough, static_cast<std::size_t>(in), from.value()});
    }
    return out;
}

outcome<trigger_hits> count_hits(const check_request& request, const trigger_tune& tune,
                                 const heard_passage& heard) {
    const auto strikes = strikes_in(heard, nominal_pitch(request));
    if (!strikes) return refuse(strikes.error());
    trigger_hits out{tune.width, 0, 0, {}};
    for (const auto count : strikes_of_gates(heard, *strikes, nominal_pitch(request))) {
        ++out.sent;
        if (count > 0) ++out.struck;
    }
    const double level = std::erf(request.module.coverage_factor / std::sqrt(2.0));
    const auto share = analysis::clopper_pearson(out.struck, out.sent, level);
    if (!share) return refuse(share.error());
    out.share = *share;
    return out;
}

trigger_bracket bracket_of(std::span<const trigger_hits> hits) {
    std::vector<trigger_hits> by_width(hits.begin(), hits.end());
    std::ranges::sort(by_width, std::greater{}, [](const auto& h) { return h.width.value(); });
    trigger_bracket out{0.0, by_width.empty() ? 0.0 : 2.0 * by_width.front().width.value()};
    bool all_struck = true;
    for (const auto& h : by_width) {
        all_struck = all_struck && h.share.lower >= sure_share;
        if (all_struck) out.struck_s = h.width.value();
        if (h.share.upper < sure_share) out.missed_s = std::max(out.missed_s, h.width.value());
    }
    return out;
}

std::size_t fast_strikes::all() const {
    return std::accumulate(of_gate.begin(), of_gate.end(), std::size_t{0});
}

std::vector<std::size_t> fast_strikes::missed() const {
    return numbers_where(of_gate, [](std::size_t strikes) { return strikes == 0; });
}

std::vector<std::size_t> fast_strikes::doubled() const {
    return numbers_where(of_gate, [](std::size_t strikes) { return strikes > 1; });
}

outcome<hertz> gate_pitch(const check_request& request, const heard_passage& slow) {
    return pitch_of(request, slow, slow_gates(request).hard_notes);
}

outcome<fast_strikes> match_fast_gates(const heard_passage& heard, hertz pitch) {
    return strikes_in(heard, pitch).map([&](const auto& strikes) {
        return fast_strikes{strikes_of_gates(heard, strikes, pitch)};
    });
}

}  // namespace cvrig
