#include "rig/checks/clicks_readings.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <array>
#include <cmath>

#include "analysis/dropouts.hpp"
#include "analysis/samples.hpp"
#include "rig/checks/listening.hpp"

namespace cvrig {

using namespace literals;

namespace {

const double db_per_share = 20.0 / std::log(10.0);
// The peak of a note lies anywhere between samples, and falls a little while the filter closes.
constexpr double u_peak_share = 0.012;

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

}  // namespace

volts note_peak(const heard_passage& scene, std::size_t held_step, std::size_t jack) {
    const auto note = part_of_step(scene, jack, held_step, 20_ms, 2_ms);
    if (note.empty()) return volts{0.0};
    const double dc = analysis::mean(scene.silence[jack]);
    // The median of the parts, so that a click does not count.
    constexpr std::size_t parts = 9;
    std::array<double, parts> most{};
    for (std::size_t i = 0; i < note.size(); ++i) {
        auto& in_part = most[std::min(parts - 1, i * parts / note.size())];
        in_part = std::max(in_part, std::abs(note[i] - dc));
    }
    std::ranges::sort(most);
    return volts{most[parts / 2]};
}

analysis::outcome<clicks_heard> read_clicks(const check_request& request, const clicks_plan& plan,
                                            std::span<const heard_passage> heard) {
    clicks_heard out;
    for (std::size_t jack = 0; jack < heard[0].volts.size(); ++jack) {
        const auto held = part_of_step(heard[0], jack, plan.held_step, 20_ms, 2_ms);
        if (!sounds(heard[0], jack, held)) return analysis::refuse(analysis::refusal::silent);
        const double peak = note_peak(heard[0], plan.held_step, jack).value();
        for (std::size_t which = 0; which < heard.size(); ++which) {
            const auto found = analysis::find_clicks(
                heard[which].volts[jack], heard[which].rate,
                {.highest_pitch = highest_pitch(request, heard[which].asked)});
            if (!found) return analysis::refuse(found.error());
            out.hidden_db =
                std::max(out.hidden_db, 20.0 * std::log10(found->threshold.value() / peak));
            for (const auto& c : found->clicks)
                out.clicks.push_back(
                    {20.0 * std::log10(c.size.value() / peak),
                     db_per_share * std::hypot(c.u_size / c.size, u_peak_share),
                     named_place(request, plan, heard[which], which, jack, c.at_samples),
                     c.at_samples / heard[which].rate.value(), which, jack});
        }
    }
    return out;
}

namespace {

void add_gaps(const check_request& request, const clicks_plan& plan, const heard_passage& heard,
              std::size_t which, std::size_t jack, dropouts_heard& into) {
    const volts noise = noise_of(heard.silence[jack]);
    const volts dc{analysis::mean(heard.silence[jack])};
    for (std::size_t step = 0; step < heard.asked.steps.size(); ++step) {
        if (!heard.asked.steps[step].gate) continue;
        const seconds skip = is_struck_step(heard.asked, step) ? 10_ms : 0_ms;
        const auto sound = part_of_step(heard, jack, step, skip, 0_ms);
        const auto gaps = analysis::find_gaps(sound, heard.rate, noise, dc);
        if (!gaps) continue;  // a step too short to have one
        const double first = static_cast<double>(sound.data() - heard.volts[jack].data());
        for (const auto& g : *gaps)
            into.dropouts.push_back(
                {g.length, g.u_length,
                 named_place(request, plan, heard, which, jack, first + g.at_samples),
                 (first + g.at_samples) / heard.rate.value(), which, jack});
    }
}

// The same loss on two outputs counts once.
dropouts_heard once_each(dropouts_heard all) {
    constexpr double same_time_s = 2e-3;
    std::vector<dropout> kept;
    for (auto& d : all.dropouts)
        if (std::ranges::none_of(kept, [&](const dropout& k) {
                return k.passage == d.passage && k.jack != d.jack &&
                       std::abs(k.where_s - d.where_s) < same_time_s;
            }))
            kept.push_back(std::move(d));
    all.dropouts = std::move(kept);
    return all;
}

}  // namespace

analysis::outcome<dropouts_heard> read_dropouts(const check_request& request,
                                                const clicks_plan& plan,
                                                std::span<const heard_passage> heard) {
    dropouts_heard out;
    std::optional<hertz> pitch;
    for (std::size_t jack = 0; jack < heard[0].volts.size(); ++jack) {
        for (std::size_t which = 0; which < heard.size(); ++which)
            add_gaps(request, plan, heard[which], which, jack, out);
        const auto held = part_of_step(heard[0], jack, plan.held_step, 30_ms, 2_ms);
        if (!sounds(heard[0], jack, held)) return analysis::refuse(analysis::refusal::silent);
        if (!pitch) {
            // A short part of it, clear of most slips, tells the pitch well enough.
            const auto note =
                request.module.pitch.pitch(heard[0].asked.steps[plan.held_step].pitch);
            const auto tone = pitch_near(held.first(held.size() / 3), heard[0].rate, note);
            // A note that is torn may have no pitch; then the one that it should have will do.
            pitch = tone ? tone->pitch : note;
        }
        const auto slips = analysis::find_slips(held, heard[0].rate, *pitch);
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
                 (first + s.at_samples) / heard[0].rate.value(), 0, jack});
        }
    }
    return once_each(std::move(out));
}

}  // namespace cvrig
