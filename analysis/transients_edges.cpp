#include "analysis/transients_edges.hpp"

#include <algorithm>
#include <cmath>

namespace cvrig::analysis {
namespace {

// From one period to the next: a release of 8 ms takes a note of 65 Hz down to a seventh, but of
// the usual ones to no less than a quarter; a slide of an octave in 22 ms changes a period of 15 ms
// by a third.
constexpr double most_size_ratio = 4.0;
constexpr double most_spacing_ratio = 1.7;

using peaks_view = std::span<const sharp_peak>;

bool rising_ones_are_larger(peaks_view peaks) {
    double balance = 0.0;
    for (const auto& p : peaks) balance += (p.rising ? 1.0 : -1.0) * p.size_v * p.size_v;
    return balance >= 0.0;
}

// Same-sign peaks with no larger one within reach.
std::vector<sharp_peak> summits(peaks_view peaks, bool rising, double reach) {
    std::vector<sharp_peak> same;
    for (const auto& p : peaks)
        if (p.rising == rising) same.push_back(p);
    std::vector<sharp_peak> out;
    std::size_t low = 0;
    for (std::size_t i = 0; i < same.size(); ++i) {
        while (same[i].at_samples - same[low].at_samples > reach) ++low;
        bool is_summit = true;
        for (std::size_t j = low; j < same.size() && is_summit; ++j) {
            if (same[j].at_samples - same[i].at_samples > reach) break;
            is_summit = j == i || same[j].size_v < same[i].size_v ||
                        (same[j].size_v == same[i].size_v && j > i);
        }
        if (is_summit) out.push_back(same[i]);
    }
    return out;
}

bool alike(const sharp_peak& a, const sharp_peak& b) {
    return a.size_v < most_size_ratio * b.size_v && b.size_v < most_size_ratio * a.size_v;
}

double distance(const std::vector<sharp_peak>& p, std::size_t i, std::size_t j) {
    return p[j].at_samples - p[i].at_samples;
}

bool even_steps(const std::vector<sharp_peak>& p, std::size_t i) {
    const double a = distance(p, i, i + 1);
    const double b = distance(p, i + 1, i + 2);
    return a < most_spacing_ratio * b && b < most_spacing_ratio * a && alike(p[i], p[i + 1]) &&
           alike(p[i + 1], p[i + 2]);
}

// Small ones between large ones are no marks.
std::vector<sharp_peak> without_dwarfs(const std::vector<sharp_peak>& p) {
    std::vector<sharp_peak> out;
    for (std::size_t i = 0; i < p.size(); ++i) {
        const bool under_before = i > 0 && p[i].size_v * most_size_ratio < p[i - 1].size_v;
        const bool under_next = i + 1 < p.size() && p[i].size_v * most_size_ratio < p[i + 1].size_v;
        if (!(under_before && under_next)) out.push_back(p[i]);
    }
    return out;
}

// A mark needs two more with which it makes even steps.
std::vector<sharp_peak> in_trains(const std::vector<sharp_peak>& p) {
    std::vector<bool> kept(p.size(), false);
    for (std::size_t i = 0; i + 2 < p.size(); ++i)
        if (even_steps(p, i)) kept[i] = kept[i + 1] = kept[i + 2] = true;
    std::vector<sharp_peak> out;
    for (std::size_t i = 0; i < p.size(); ++i)
        if (kept[i]) out.push_back(p[i]);
    return out;
}

bool near(double a, double b, double share) {
    return std::abs(a - b) < share * b;
}

// One too many: without it the steps would be even. Out of turn: the steps on either side of it are
// uneven, and together as long as they should be.
bool out_of_turn(const std::vector<sharp_peak>& p, std::size_t i) {
    if (i < 2 || i + 2 >= p.size()) return false;
    const double s0 = distance(p, i - 2, i - 1);
    const double s1 = distance(p, i - 1, i);
    const double s2 = distance(p, i, i + 1);
    const double s3 = distance(p, i + 1, i + 2);
    const bool surplus = near(s1 + s2, s0, 0.15) && near(s1 + s2, s3, 0.15);
    const bool displaced = near(s0, s3, 0.1) && near(s1 + s2, s0 + s3, 0.05) &&
                           std::abs(s1 - s2) > 0.2 * (s1 + s2);
    return surplus || displaced;
}

}  // namespace

period_marks mark_periods(peaks_view peaks, double reach_samples) {
    auto found = summits(peaks, rising_ones_are_larger(peaks), reach_samples);
    found = without_dwarfs(without_dwarfs(found));
    std::vector<sharp_peak> in_turn;
    for (std::size_t i = 0; i < found.size(); ++i)
        if (!out_of_turn(found, i)) in_turn.push_back(found[i]);
    period_marks out;
    for (const auto& p : in_trains(in_turn)) out.at_samples.push_back(p.at_samples);
    return out;
}

std::vector<like_place> like_places(const period_marks& marks, double at) {
    const auto& m = marks.at_samples;
    std::vector<like_place> out;
    if (m.size() < 2) return out;
    const auto above = std::ranges::upper_bound(m, at);
    const auto behind = static_cast<std::ptrdiff_t>(above - m.begin());  // first mark behind `at`
    const auto count = static_cast<std::ptrdiff_t>(m.size());
    const auto mark = [&](std::ptrdiff_t i) { return m[static_cast<std::size_t>(i)]; };
    const auto has = [&](std::ptrdiff_t i) { return i >= 0 && i < count; };
    const auto add = [&](double place, double period) {
        if (period > 0.0) out.push_back({place, period});
    };
    // By distance from the mark before, and from the one behind: in the two next periods each way.
    for (const std::ptrdiff_t other : {behind - 3, behind - 2, behind, behind + 1}) {
        if (!has(behind - 1) || !has(other) || !has(other + 1)) continue;
        const double period = mark(other + 1) - mark(other);
        const double offset = at - mark(behind - 1);
        if (offset < 1.7 * period) add(mark(other) + offset, period);
    }
    for (const std::ptrdiff_t other : {behind - 2, behind - 1, behind + 1, behind + 2}) {
        if (!has(behind) || !has(other) || !has(other - 1)) continue;
        const double period = mark(other) - mark(other - 1);
        const double offset = mark(behind) - at;
        if (offset < 1.7 * period) add(mark(other) - offset, period);
    }
    // By phase.
    if (has(behind - 1) && has(behind)) {
        const double phase = (at - mark(behind - 1)) / (mark(behind) - mark(behind - 1));
        for (const std::ptrdiff_t other : {behind - 2, behind}) {
            if (!has(other) || !has(other + 1)) continue;
            const double period = mark(other + 1) - mark(other);
            add(mark(other) + phase * period, period);
        }
    }
    return out;
}

}  // namespace cvrig::analysis
