#include "analysis/loop_likelihood.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace cvrig::analysis {

record_power power_of(const loop_signal& s, const loop_stretch& where, std::span<const float> p) {
    double rest = 0.0;
    double all = 0.0;
    const float* heard = s.heard.high.data() + where.from;
    for (std::size_t n = 0; n < p.size(); ++n) {
        const double h = heard[n];
        rest += (h - static_cast<double>(p[n])) * (h - static_cast<double>(p[n]));
        all += h * h;
    }
    return {rest / static_cast<double>(p.size()), all / static_cast<double>(p.size())};
}

// A path that clips is not what its taps say, so that the
// noise is never believed to lie more than 7 dB below the record.
double likelihood_scale(const record_power& power) {
    const double believed = std::max(power.rest, 0.2 * power.all);
    return believed > 0.0 ? 0.5 / believed : 0.0;
}

namespace {

// Scores of a stretch under one view; 0 where the sequence says nothing.
std::vector<double> scores(const loop_signal& s, const loop_lock& view, std::ptrdiff_t from,
                           std::ptrdiff_t to) {
    std::vector<double> out(static_cast<std::size_t>(std::max<std::ptrdiff_t>(to - from, 0)));
    const auto inside = within_sequence(s, {from, to - from, view.where.lag});
    const auto p = predicted(s, inside, view.taps);
    for (std::size_t n = 0; n < p.size(); ++n) {
        const auto at = static_cast<std::size_t>(inside.from) + n;
        out[at - static_cast<std::size_t>(from)] =
            score(static_cast<double>(s.heard.high[at]), static_cast<double>(p[n]));
    }
    return out;
}

}  // namespace

break_place locate_break(const loop_signal& s, const loop_lock& old_view, const loop_lock& new_view,
                         std::ptrdiff_t from, std::ptrdiff_t to) {
    const auto before = scores(s, old_view, from, to);
    const auto after = scores(s, new_view, from, to);
    double remaining = 0.0;
    for (const double v : after) remaining += v;
    double sum_before = 0.0;
    double best_before = 0.0;
    double best = -INFINITY;
    std::ptrdiff_t split = from;
    break_place out{from, from};
    for (std::size_t n = 0; n <= before.size(); ++n) {
        const auto here = from + static_cast<std::ptrdiff_t>(n);
        if (sum_before > best_before) {
            best_before = sum_before;
            split = here;
        }
        if (best_before + remaining > best) {
            best = best_before + remaining;
            out = {split, here};
        }
        if (n == before.size()) break;
        sum_before += before[n];
        remaining -= after[n];
    }
    return out;
}

std::ptrdiff_t follow_back(const loop_signal& s, loop_lock& lock, std::ptrdiff_t limit) {
    auto end = lock.where.from;
    likelihood_watch falling{end};
    while (end > limit) {
        const auto from = std::max(limit, end - loop_block_samples);
        const auto here = within_sequence(s, {from, end - from, lock.where.lag});
        if (here.samples == 0) return end;
        const auto p = predicted(s, here, lock.taps);
        const double scale = likelihood_scale(power_of(s, here, p));
        for (auto n = p.size(); n-- > 0;) {
            const auto at = here.from + static_cast<std::ptrdiff_t>(n);
            const double heard = s.heard.high[static_cast<std::size_t>(at)];
            if (falling.fell(scale * score(heard, static_cast<double>(p[n])), at))
                return falling.top_at();
        }
        if (here.samples >= shortest_loop_block) lock.taps = improved(s, here, lock.taps, p);
        lock.where.from = end = here.from;
    }
    return limit;
}

}  // namespace cvrig::analysis
