#include "rig/checks/clicks_readings.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "analysis/dropouts.hpp"
#include "analysis/samples.hpp"
#include "rig/checks/listening.hpp"

namespace cvrig {

using namespace literals;

namespace {

const double db_per_share = 20.0 / std::log(10.0);
// A step that a live module's converter smooths falls anywhere between the samples of the bench, and
// reads 2 to 9 % low at 48 kHz (abruptness_filter).
constexpr double u_between_samples = 0.05;

std::string named_place(const check_request& request, const clicks_plan& plan,
                        const heard_passage& heard, std::size_t which, std::size_t jack,
                        double sample) {
    const auto next =
        std::ranges::upper_bound(heard.step_starts, sample, std::ranges::less{},
                                 [](std::size_t s) { return static_cast<double>(s); });
    const auto step =
        static_cast<std::size_t>(std::max<std::ptrdiff_t>(0, next - heard.step_starts.begin() - 1));
    const double into_ms =
        1e3 * (sample - static_cast<double>(heard.step_starts[step])) / heard.rate.value();
    const std::string where = which == 0 ? plan.scene_names[step] : heard.asked.purpose;
    return fmt::format("{}, {:.1f} ms in, {}", where, into_ms, request.module.listen[jack]);
}

bool is_struck_step(const passage& p, std::size_t step) {
    return p.steps[step].gate && (step == 0 || !p.steps[step - 1].gate);
}

template <std::size_t N>
double middle_of(std::array<double, N> x) {
    std::ranges::sort(x);
    return x[N / 2];
}

}  // namespace

peak_of_note note_peak(const heard_passage& scene, std::size_t held_step, std::size_t jack) {
    const auto note = part_of_step(scene, jack, held_step, 20_ms, 2_ms);
    if (note.empty()) return {};
    const double dc = analysis::mean(scene.silence[jack]);
    // The median of the parts, so that a click does not count.
    constexpr std::size_t parts = 9;
    std::array<double, parts> most{}, above_next{};
    const auto size = [&](std::size_t i) { return std::abs(note[i] - dc); };
    for (std::size_t i = 1; i + 1 < note.size(); ++i) {
        const auto part = std::min(parts - 1, i * parts / note.size());
        if (size(i) <= most[part]) continue;
        most[part] = size(i);
        above_next[part] = size(i) - std::max(size(i - 1), size(i + 1));
    }
    // Neighbours differ by how their peaks fall between the samples, little by how the note decays;
    // the median of n scatters sqrt(pi / 2 / n) as much as each. All may lie as far above what was
    // sampled as the highest sample lies above the next: a sharp peak is higher at a higher rate.
    std::array<double, parts - 1> apart{};
    for (std::size_t i = 1; i < parts; ++i) apart[i - 1] = std::abs(most[i] - most[i - 1]);
    constexpr double normal_consistency = 1.4826;  // of the median of absolute values
    const double each = normal_consistency * middle_of(apart) / std::numbers::sqrt2;
    const double scatter = each * std::sqrt(0.5 * std::numbers::pi / parts);
    return {volts{middle_of(most)}, volts{std::hypot(scatter, 0.5 * middle_of(above_next))}};
}

analysis::outcome<clicks_heard> read_clicks(const check_request& request, const clicks_plan& plan,
                                            std::span<const heard_passage> heard) {
    clicks_heard out;
    for (std::size_t jack = 0; jack < heard[0].volts.size(); ++jack) {
        const auto held = part_of_step(heard[0], jack, plan.held_step, 20_ms, 2_ms);
        if (!sounds(heard[0], jack, held)) return analysis::refuse(analysis::refusal::silent);
        const auto peak = note_peak(heard[0], plan.held_step, jack);
        const double u_peak = peak.u_height / peak.height;
        const double u_shape = request.desk.audio ? u_between_samples : 0.0;
        for (std::size_t which = 0; which < heard.size(); ++which) {
            // Behind a passage's end the CVs move to where the next begins, under a tail that still sounds.
            const auto own = std::span{heard[which].volts[jack]}.first(heard[which].end);
            const auto found = analysis::find_clicks(
                own, heard[which].rate,
                {.highest_pitch = highest_pitch(request, heard[which].asked)});
            if (!found) return analysis::refuse(found.error());
            out.hidden_db =
                std::max(out.hidden_db, 20.0 * std::log10(found->threshold / peak.height));
            for (const auto& c : found->clicks)
                out.clicks.push_back(
                    {20.0 * std::log10(c.size / peak.height),
                     db_per_share * std::hypot(c.u_size / c.size, u_peak, u_shape),
                     named_place(request, plan, heard[which], which, jack, c.at_samples),
                     c.at_samples / heard[which].rate.value(), which, jack});
        }
    }
    return out;
}

namespace {

// Notes with whatever is tied to them: a hole may lie across a border.
struct tied_steps {
    std::size_t first, last;
};

std::vector<tied_steps> notes_of(const passage& p) {
    std::vector<tied_steps> out;
    for (std::size_t step = 0; step < p.steps.size(); ++step) {
        if (!p.steps[step].gate) continue;
        if (is_struck_step(p, step)) out.push_back({step, step});
        out.back().last = step;
    }
    return out;
}

std::span<const double> sound_of(const heard_passage& heard, const tied_steps& note,
                                 std::size_t jack) {
    // A note may begin with a wave that is still small.
    const auto begin = part_of_step(heard, jack, note.first, 10_ms, 0_ms);
    const auto end = part_of_step(heard, jack, note.last, 0_ms, 0_ms);
    if (begin.empty() || end.empty()) return {};
    return {begin.data(), end.data() + end.size()};
}

// A module that is switched on with the take may pop in the silence before.
std::span<const double> settled(const heard_passage& heard, std::size_t jack) {
    const std::span<const double> silence = heard.silence[jack];
    return silence.last(silence.size() / 3);
}

void add_gaps(const check_request& request, const clicks_plan& plan, const heard_passage& heard,
              std::size_t which, std::size_t jack, dropouts_heard& into) {
    const auto silence = settled(heard, jack);
    const volts noise = noise_of(silence);
    const volts dc{analysis::mean(silence)};
    const hertz highest = highest_pitch(request, heard.asked);
    for (const auto& note : notes_of(heard.asked)) {
        const auto sound = sound_of(heard, note, jack);
        const auto gaps = analysis::find_gaps(sound, heard.rate, noise, dc, highest);
        if (!gaps) continue;  // a note too short to have one
        const double first = static_cast<double>(sound.data() - heard.volts[jack].data());
        for (const auto& g : *gaps)
            into.dropouts.push_back(
                {g.length, g.u_length,
                 named_place(request, plan, heard, which, jack, first + g.at_samples),
                 (first + g.at_samples) / heard.rate.value(), which, jack});
    }
}

// Phases are compared over so many periods: a hole within them may look like a slip.
constexpr double reach_of_a_slip = 5.5;

// Whether two sightings may be of one loss: on two outputs, or as a hole and as a slip.
bool may_be_one(const dropout& a, const dropout& b) {
    constexpr double same_time_s = 2e-3;
    const double known_s = a.u_where_s + b.u_where_s + (a.length + b.length).value() + same_time_s;
    return a.passage == b.passage && (a.jack != b.jack || a.is_slip != b.is_slip) &&
           std::abs(a.where_s - b.where_s) < known_s;
}

// A loss that was seen more than once counts once, as its longest sighting.
dropouts_heard once_each(dropouts_heard all) {
    std::ranges::stable_sort(all.dropouts, std::ranges::greater{}, &dropout::length);
    std::vector<dropout> kept;
    for (auto& d : all.dropouts)
        if (std::ranges::none_of(kept, [&](const dropout& k) { return may_be_one(k, d); }))
            kept.push_back(std::move(d));
    std::ranges::stable_sort(kept, [](const dropout& a, const dropout& b) {
        return std::pair{a.passage, a.where_s} < std::pair{b.passage, b.where_s};
    });
    all.dropouts = std::move(kept);
    return all;
}

}  // namespace

analysis::outcome<dropouts_heard> read_dropouts(const check_request& request,
                                                const clicks_plan& plan,
                                                std::span<const heard_passage> heard) {
    dropouts_heard out;
    out.hidden = analysis::shortest_gap_found;
    const hertz note = request.module.pitch.pitch(heard[0].asked.steps[plan.held_step].pitch);
    for (std::size_t jack = 0; jack < heard[0].volts.size(); ++jack) {
        for (std::size_t which = 0; which < heard.size(); ++which)
            add_gaps(request, plan, heard[which], which, jack, out);
        const auto held = part_of_step(heard[0], jack, plan.held_step, 30_ms, 2_ms);
        if (!sounds(heard[0], jack, held)) return analysis::refuse(analysis::refusal::silent);
        const volts peak = note_peak(heard[0], plan.held_step, jack).height;
        if (peak < analysis::peak_over_noise_for_gaps * noise_of(settled(heard[0], jack)))
            return analysis::refuse(analysis::refusal::no_contrast);
        const auto slips = analysis::find_slips(held, heard[0].rate, note);
        if (!slips) return analysis::refuse(slips.error());
        out.hidden = std::max(out.hidden, slips->smallest);
        const double first = static_cast<double>(held.data() - heard[0].volts[jack].data());
        for (const auto& s : slips->slips) {
            const double samples = std::abs(s.jump.value()) * heard[0].rate.value();
            out.dropouts.push_back(
                {seconds{std::abs(s.jump.value())}, s.u_jump,
                 fmt::format("{}, {:.0f} samples {}",
                             named_place(request, plan, heard[0], 0, jack, first + s.at_samples),
                             samples, s.jump.value() > 0.0 ? "missing" : "played twice"),
                 (first + s.at_samples) / heard[0].rate.value(), 0, jack, true,
                 reach_of_a_slip / note.value()});
        }
    }
    return once_each(std::move(out));
}

}  // namespace cvrig
