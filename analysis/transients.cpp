#include "analysis/transients.hpp"

#include <algorithm>
#include <cmath>

#include "analysis/samples.hpp"
#include "analysis/transients_edges.hpp"
#include "analysis/transients_growth.hpp"
#include "analysis/transients_scale.hpp"

namespace cvrig::analysis {
namespace {

constexpr seconds width = click_width;
constexpr seconds stretch{0.02};
// A click so many deviations above the threshold passes it 98 times in 100; and one of so many is told
// from a corner as often: with r deviations a volt, (1 + 2.2 r) (1 + 8 r) = 2.
constexpr double surely_heard = 2.0, surely_no_corner = 11.5;
constexpr double least_rate_hz = 40000.0;
// Edges further apart than those of 20 Hz are no wave: three clicks in as many notes.
constexpr seconds longest_train_period{0.05};
// A quarter of the values lies below it, in deviations: sqrt(2 ln(4 / 3)). The edges of a high note
// fill more than half of the time, never three quarters.
const double quartile_of_rayleigh = std::sqrt(2.0 * std::log(4.0 / 3.0));
// A like edge may be so much smaller: it falls otherwise between the samples, and levels change.
constexpr double like_enough = 1.3;
// The abruptness beside an edge falls by 60 dB in this time at the slowest.
constexpr seconds shadow_fall{0.1e-3};
constexpr seconds longest_tail{0.35e-3};
// Where no like edge of the period before tells what rings behind it, an edge may ring this long: a
// corner in that, as an attack ends, grows no more than a step.
constexpr seconds longest_unsteady_tail{0.7e-3};
constexpr double unsteady_tail_left = 0.01;  // of the edge, at that distance
// What a size may be off besides, as a share of it: a step that dies away within 2 ms reads up to
// 0.5 % too high.
constexpr double u_size_share = 0.003;

struct abrupt_record {
    std::vector<double> size_v;
    std::vector<double> threshold_v;  // one for each stretch
    std::vector<double> deviation_v;  // of the noise, likewise
    std::size_t stretch_samples{1};
    double noise_v{0.0};

    [[nodiscard]] std::size_t stretch_of(std::size_t i) const {
        return std::min(i / stretch_samples, threshold_v.size() - 1);
    }
    [[nodiscard]] double threshold_at(std::size_t i) const { return threshold_v[stretch_of(i)]; }
    [[nodiscard]] double deviation_at(std::size_t i) const { return deviation_v[stretch_of(i)]; }
};

double lower_quartile(std::vector<double> x) {
    const auto place = x.begin() + static_cast<std::ptrdiff_t>(x.size() / 4);
    std::ranges::nth_element(x, place);
    return *place;
}

// Deviations over which the largest of all values comes with the chance p.
double threshold_factor(std::size_t samples, sample_rate rate, double chance) {
    const double values = static_cast<double>(samples) / rate.value() / width.value();
    return std::sqrt(2.0 * std::log(std::max(values, 2.0) / chance));
}

void set_thresholds(abrupt_record& a, sample_rate rate, double chance) {
    const double factor = threshold_factor(a.size_v.size(), rate, chance);
    a.stretch_samples = static_cast<std::size_t>(stretch.value() * rate.value());
    auto& each = a.deviation_v;
    for (std::size_t first = 0; first < a.size_v.size(); first += a.stretch_samples) {
        const auto begin = a.size_v.begin() + static_cast<std::ptrdiff_t>(first);
        const auto count = std::min(a.stretch_samples, a.size_v.size() - first);
        each.push_back(lower_quartile({begin, begin + static_cast<std::ptrdiff_t>(count)}) /
                       quartile_of_rayleigh);
    }
    // The quietest stretch says how much noise there is at least; a stretch of silence that was
    // made by a program has none.
    for (std::size_t i = 0; i < each.size(); ++i) {
        const double around = std::max(
            {each[i], each[i > 0 ? i - 1 : i], each[std::min(i + 1, each.size() - 1)], 1e-9});
        a.threshold_v.push_back(factor * around);
        a.noise_v = std::max(a.noise_v, around);
    }
}

abrupt_record abruptness_of(std::span<const double> volts, const abruptness_filter& filter) {
    abrupt_record a;
    std::vector<double> even, odd;
    filter.all(volts, even, odd);
    a.size_v.resize(even.size());
    for (std::size_t i = 0; i < even.size(); ++i)
        a.size_v[i] = std::sqrt(even[i] * even[i] + odd[i] * odd[i]);
    return a;
}

// Whether the record is higher behind a place than before it. The abruptness itself has no stable
// sign: that of an edge which is a little soft peaks beside its middle.
bool rises_at(std::span<const double> volts, std::size_t i, std::size_t reach) {
    const double before = volts[i > reach ? i - reach : 0];
    return volts[std::min(i + reach, volts.size() - 1)] > before;
}

// The top of a parabola through three samples.
sharp_peak peak_at(const abrupt_record& a, std::span<const double> volts, std::size_t i,
                   std::size_t reach) {
    const double left = a.size_v[i - 1];
    const double top = a.size_v[i];
    const double right = a.size_v[i + 1];
    const double bend = left - 2.0 * top + right;
    const double shift = bend < 0.0 ? 0.5 * (left - right) / bend : 0.0;
    return {i, static_cast<double>(i) + shift, top - 0.25 * (left - right) * shift,
            rises_at(volts, i, reach)};
}

std::vector<sharp_peak> peaks_of(const abrupt_record& a, std::span<const double> volts,
                                 double width_samples) {
    // One click alone may ripple in noise.
    const auto apart = static_cast<std::size_t>(3.0 * width_samples);
    const auto beside = static_cast<std::size_t>(std::lround(3.0 * width_samples));
    std::vector<sharp_peak> out;
    const auto& e = a.size_v;
    for (std::size_t i = 1; i + 1 < e.size(); ++i) {
        if (e[i] < e[i - 1] || e[i] <= e[i + 1] || e[i] < a.threshold_at(i)) continue;
        const auto peak = peak_at(a, volts, i, beside);
        if (!out.empty() && i - out.back().sample <= apart) {
            if (peak.size_v > out.back().size_v) out.back() = peak;
            continue;
        }
        out.push_back(peak);
    }
    return out;
}

// What the abruptness of a place casts on those beside it.
std::vector<double> shadows(const std::vector<double>& size, sample_rate rate) {
    const double keep = std::pow(1e-3, 1.0 / (shadow_fall.value() * rate.value()));
    std::vector<double> out = size;
    for (std::size_t i = 1; i < out.size(); ++i) out[i] = std::max(out[i], keep * out[i - 1]);
    for (std::size_t i = out.size() - 1; i > 0; --i)
        out[i - 1] = std::max(out[i - 1], keep * out[i]);
    return out;
}

double largest_within(const std::vector<double>& x, double centre, double reach) {
    const double last = static_cast<double>(x.size()) - 1.0;
    if (centre + reach < 0.0 || centre - reach > last) return 0.0;
    const auto from = static_cast<std::size_t>(std::clamp(centre - reach, 0.0, last));
    const auto to = static_cast<std::size_t>(std::clamp(centre + reach, 0.0, last));
    double most = 0.0;
    for (std::size_t i = from; i <= to; ++i) most = std::max(most, x[i]);
    return most;
}

// Whether a peak may be what a larger one beside it leaves behind.
bool is_in_a_tail(const sharp_peak& p, std::span<const sharp_peak> all, sample_rate rate) {
    const double reach = longest_unsteady_tail.value() * rate.value();
    const auto first = std::ranges::lower_bound(all, p.at_samples - reach, std::ranges::less{},
                                                &sharp_peak::at_samples);
    for (auto q = first; q != all.end() && q->at_samples < p.at_samples + reach; ++q) {
        const double away = std::abs(q->at_samples - p.at_samples) / reach;
        if (away > 0.0 && q->size_v * std::pow(unsteady_tail_left, away) > p.size_v) return true;
    }
    return false;
}

bool is_in_the_wave(const sharp_peak& p, std::span<const sharp_peak> all, const period_marks& marks,
                    const std::vector<double>& shadow, sample_rate rate) {
    const auto like = like_places(marks, p.at_samples);
    for (const auto& place : like.places) {
        const double reach = place.reach_samples + 2.0 * width.value() * rate.value();
        if (largest_within(shadow, place.at_samples, reach) * like_enough >= p.size_v) return true;
    }
    // Where the periods or their edges are not even, the tail of an edge may be so, too.
    return !(like.is_steady && like.is_as_loud) && !like.places.empty() &&
           is_in_a_tail(p, all, rate);
}

bool is_mark(const period_marks& marks, const sharp_peak& p) {
    return std::ranges::binary_search(marks.at_samples, p.at_samples);
}

}  // namespace

const click* click_reading::largest() const noexcept {
    const auto found = std::ranges::max_element(clicks, {}, &click::size);
    return found == clicks.end() ? nullptr : &*found;
}

outcome<click_reading> find_clicks(std::span<const double> volts, sample_rate rate,
                                   const click_request& request) {
    if (!(rate.value() >= least_rate_hz) || !(request.highest_pitch.value() > 0.0) ||
        !(request.false_alarms > 0.0 && request.false_alarms < 1.0))
        return refuse(refusal::bad_argument);
    if (static_cast<double>(volts.size()) < 0.01 * rate.value()) return refuse(refusal::too_short);
    if (!all_finite(volts)) return refuse(refusal::not_finite);

    const abruptness_filter filter{width, rate};
    const double width_samples = width.value() * rate.value();
    auto abrupt = abruptness_of(volts, filter);
    set_thresholds(abrupt, rate, request.false_alarms);
    const auto peaks = peaks_of(abrupt, volts, width_samples);
    const auto marks = mark_periods(
        peaks, {0.6 * rate.value() / request.highest_pitch.value(),
                longest_tail.value() * rate.value(), longest_train_period.value() * rate.value()});
    const auto shadow = shadows(abrupt.size_v, rate);
    const growth_ear ear{volts, rate, request.highest_pitch};

    const double factor = threshold_factor(volts.size(), rate, request.false_alarms);
    click_reading out;
    out.noise = cvrig::volts{abrupt.noise_v};
    out.threshold = out.noise * std::max(factor + surely_heard, surely_no_corner);
    for (const auto& p : peaks) {
        if (is_mark(marks, p) || is_in_the_wave(p, peaks, marks, shadow, rate)) continue;
        const double noise = abrupt.deviation_at(p.sample);
        const double growth = ear.of(p, noise);
        if (!growth_ear::is_no_corner(growth, noise / p.size_v)) continue;
        out.clicks.push_back({p.at_samples, cvrig::volts{p.size_v},
                              cvrig::volts{std::hypot(noise, u_size_share * p.size_v)}, growth});
    }
    return out;
}

}  // namespace cvrig::analysis
