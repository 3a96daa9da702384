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

// The tail of an edge swings, and some of its swings have the other sign.
std::vector<sharp_peak> without_tails(peaks_view peaks, double tail) {
    std::vector<sharp_peak> out;
    for (std::size_t i = 0; i < peaks.size(); ++i) {
        bool in_a_tail = false;
        for (std::size_t j = i; j-- > 0 && !in_a_tail;) {
            if (peaks[i].at_samples - peaks[j].at_samples > tail) break;
            in_a_tail = peaks[j].size_v > peaks[i].size_v;
        }
        for (std::size_t j = i + 1; j < peaks.size() && !in_a_tail; ++j) {
            if (peaks[j].at_samples - peaks[i].at_samples > tail) break;
            in_a_tail = peaks[j].size_v > peaks[i].size_v;
        }
        if (!in_a_tail) out.push_back(peaks[i]);
    }
    return out;
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

bool even_steps(const std::vector<sharp_peak>& p, std::size_t i, double longest) {
    const double a = distance(p, i, i + 1);
    const double b = distance(p, i + 1, i + 2);
    return a < most_spacing_ratio * b && b < most_spacing_ratio * a && std::max(a, b) < longest &&
           alike(p[i], p[i + 1]) && alike(p[i + 1], p[i + 2]);
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
std::vector<sharp_peak> in_trains(const std::vector<sharp_peak>& p, double longest) {
    std::vector<bool> kept(p.size(), false);
    for (std::size_t i = 0; i + 2 < p.size(); ++i)
        if (even_steps(p, i, longest)) kept[i] = kept[i + 1] = kept[i + 2] = true;
    std::vector<sharp_peak> out;
    for (std::size_t i = 0; i < p.size(); ++i)
        if (kept[i]) out.push_back(p[i]);
    return out;
}

bool near(double a, double b, double share) {
    return std::abs(a - b) < share * b;
}

// Larger than two on either side, which are alike: a click that stands in for a soft edge.
bool is_odd_in_size(const std::vector<sharp_peak>& p, std::size_t i) {
    constexpr double even = 1.25, larger = 1.5;
    const auto [least, most] =
        std::minmax({p[i - 2].size_v, p[i - 1].size_v, p[i + 1].size_v, p[i + 2].size_v});
    return most < even * least && p[i].size_v > larger * most;
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
    const bool displaced =
        near(s0, s3, 0.1) && near(s1 + s2, s0 + s3, 0.05) && std::abs(s1 - s2) > 0.06 * (s1 + s2);
    return surplus || displaced || is_odd_in_size(p, i);
}

}  // namespace

period_marks mark_periods(peaks_view peaks, const edge_reach& reach) {
    const auto heads = without_tails(peaks, reach.tail_samples);
    auto found = summits(heads, rising_ones_are_larger(heads), reach.next_samples);
    found = without_dwarfs(without_dwarfs(found));
    std::vector<sharp_peak> in_turn;
    for (std::size_t i = 0; i < found.size(); ++i)
        if (!out_of_turn(found, i)) in_turn.push_back(found[i]);
    period_marks out;
    for (const auto& p : in_trains(in_turn, reach.longest_period_samples)) {
        out.at_samples.push_back(p.at_samples);
        out.size_v.push_back(p.size_v);
    }
    return out;
}

namespace {

// Marks by their place in the list, where they are.
class mark_list {
public:
    explicit mark_list(const std::vector<double>& at) : at_{at} {}
    [[nodiscard]] bool has(std::ptrdiff_t i) const {
        return i >= 0 && i < static_cast<std::ptrdiff_t>(at_.size());
    }
    [[nodiscard]] bool has_period(std::ptrdiff_t i) const { return has(i) && has(i + 1); }
    [[nodiscard]] double operator[](std::ptrdiff_t i) const {
        return at_[static_cast<std::size_t>(i)];
    }
    /// Length of the period that begins with mark i.
    [[nodiscard]] double period(std::ptrdiff_t i) const { return (*this)[i + 1] - (*this)[i]; }

private:
    const std::vector<double>& at_;
};

constexpr double longest_offset_periods = 1.7;
constexpr double beside_a_mark = 0.25;
// A distance from a mark is the same in every period; a phase moves a little while the pitch does.
constexpr double offset_share = 0.004, phase_share = 0.02;

void add_from_before(const mark_list& m, std::ptrdiff_t own, double at,
                     std::initializer_list<std::ptrdiff_t> periods, std::vector<like_place>& out) {
    if (!m.has(own)) return;
    const double offset = at - m[own];
    for (const auto i : periods)
        if (m.has_period(i) && offset < longest_offset_periods * m.period(i))
            out.push_back({m[i] + offset, offset_share * m.period(i)});
}

void add_from_behind(const mark_list& m, std::ptrdiff_t own, double at,
                     std::initializer_list<std::ptrdiff_t> periods, std::vector<like_place>& out) {
    if (!m.has(own)) return;
    const double offset = m[own] - at;
    for (const auto i : periods)
        if (m.has_period(i) && offset < longest_offset_periods * m.period(i))
            out.push_back({m[i + 1] - offset, offset_share * m.period(i)});
}

void add_by_phase(const mark_list& m, std::ptrdiff_t own, double at, std::vector<like_place>& out) {
    const double phase = (at - m[own]) / m.period(own);
    for (const std::ptrdiff_t i : {own - 1, own + 1})
        if (m.has_period(i)) out.push_back({m[i] + phase * m.period(i), phase_share * m.period(i)});
}

// A period in the middle of a train and about as long as both its neighbours: not beside a train's
// end, where the pitch jumps, or where a mark is missing.
constexpr double about_as_long = 1.06;

bool is_inside(const mark_list& m, std::ptrdiff_t own) {
    if (!m.has_period(own - 1) || !m.has_period(own) || !m.has_period(own + 1)) return false;
    const auto as_long_as = [&](std::ptrdiff_t other) {
        return m.period(own) < about_as_long * m.period(other) &&
               m.period(other) < about_as_long * m.period(own);
    };
    return as_long_as(own - 1) && as_long_as(own + 1);
}

constexpr double about_as_large = 1.3;

bool is_as_loud(const period_marks& marks, std::ptrdiff_t own) {
    if (own < 1 || own + 2 >= static_cast<std::ptrdiff_t>(marks.size_v.size())) return false;
    const auto first = marks.size_v.begin() + own - 1;
    const auto [least, most] = std::minmax_element(first, first + 4);
    return *most < about_as_large * *least;
}

}  // namespace

like_place_list like_places(const period_marks& marks, double at) {
    like_place_list list;
    auto& out = list.places;
    const mark_list m{marks.at_samples};
    const auto own = std::ranges::upper_bound(marks.at_samples, at) - marks.at_samples.begin() - 1;
    list.is_steady = is_inside(m, own);
    list.is_as_loud = is_as_loud(marks, own);
    if (list.is_steady) {
        const double phase = (at - m[own]) / m.period(own);
        if (phase < beside_a_mark)
            add_from_before(m, own, at, {own - 1, own + 1}, out);
        else if (phase > 1.0 - beside_a_mark)
            add_from_behind(m, own + 1, at, {own - 1, own + 1}, out);
        else
            add_by_phase(m, own, at, out);
        return list;
    }
    add_from_before(m, own, at, {own - 2, own - 1, own + 1, own + 2}, out);
    add_from_behind(m, own + 1, at, {own - 2, own - 1, own + 1, own + 2}, out);
    if (m.has_period(own)) add_by_phase(m, own, at, out);
    return list;
}

}  // namespace cvrig::analysis
