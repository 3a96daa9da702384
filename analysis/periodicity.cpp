#include "analysis/periodicity.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

#include "analysis/samples.hpp"

namespace cvrig::analysis {

namespace {

constexpr double least_repetition = 0.7;
constexpr double good_share = 0.9;
constexpr std::size_t shortest_record = 32;

double of_sums(double product, double squares) {
    return squares > 0.0 ? 2.0 * product / squares : 0.0;
}

double repetition_of_whole(std::span<const double> x, std::size_t lag) {
    double product = 0.0;
    double squares = 0.0;
    for (std::size_t i = 0; i + lag < x.size(); ++i) {
        product += x[i] * x[i + lag];
        squares += x[i] * x[i] + x[i + lag] * x[i + lag];
    }
    return of_sums(product, squares);
}

std::vector<double> without_mean(std::span<const double> x) {
    const double centre = mean(x);
    std::vector<double> out{x.begin(), x.end()};
    for (double& v : out) v -= centre;
    return out;
}

// Repetition against lag, from lag 0 on.
std::vector<double> course(std::span<const double> x, std::size_t longest) {
    std::vector<double> out(longest + 1, 1.0);
    for (std::size_t lag = 1; lag <= longest; ++lag) out[lag] = repetition_of_whole(x, lag);
    return out;
}

// Whole lags at which a peak lies, behind the fall from lag 0.
std::vector<std::size_t> peaks_of(std::span<const double> r, std::size_t shortest) {
    std::vector<std::size_t> out;
    std::size_t lag = 1;
    while (lag < r.size() && r[lag] > 0.0) ++lag;
    for (lag = std::max(lag, shortest); lag + 1 < r.size(); ++lag)
        if (r[lag] > 0.0 && r[lag] >= r[lag - 1] && r[lag] > r[lag + 1]) out.push_back(lag);
    return out;
}

double top_of_parabola(std::span<const double> r, std::size_t at) {
    const double bend = r[at - 1] - 2.0 * r[at] + r[at + 1];
    const double shift = bend < 0.0 ? 0.5 * (r[at - 1] - r[at + 1]) / bend : 0.0;
    return static_cast<double>(at) + shift;
}

}  // namespace

double repetition(std::span<const double> samples, double lag_samples) noexcept {
    const auto whole = static_cast<std::size_t>(std::max(lag_samples, 0.0));
    const double part = lag_samples - static_cast<double>(whole);
    if (samples.size() < whole + 3) return 0.0;
    const std::size_t overlap = samples.size() - whole - 1;
    const double centre = mean(samples);
    double product = 0.0;
    double squares = 0.0;
    for (std::size_t i = 0; i < overlap; ++i) {
        const double a = samples[i] - centre;
        const double next = samples[i + whole];
        const double b = next + part * (samples[i + whole + 1] - next) - centre;
        product += a * b;
        squares += a * a + b * b;
    }
    return of_sums(product, squares);
}

outcome<period_reading> measure_period(std::span<const double> samples, sample_rate rate,
                                       const period_request& request) {
    if (!(rate.value() > 0.0) || !(request.lowest.value() > 0.0) ||
        request.highest <= request.lowest)
        return refuse(refusal::bad_argument);
    if (samples.size() < shortest_record) return refuse(refusal::too_short);
    if (!all_finite(samples)) return refuse(refusal::not_finite);
    if (deviation(samples) == 0.0) return refuse(refusal::silent);
    const auto lag_of = [&](hertz f) { return static_cast<std::size_t>(rate.value() / f.value()); };
    const auto shortest = std::max<std::size_t>(lag_of(request.highest), 2);
    const auto longest = std::min(lag_of(request.lowest) + 1, samples.size() / 2);
    if (shortest + 1 >= longest) return refuse(refusal::too_short);
    const auto r = course(without_mean(samples), longest);
    const auto peaks = peaks_of(r, shortest);
    double highest = 0.0;
    for (const auto lag : peaks) highest = std::max(highest, r[lag]);
    if (highest < least_repetition) return refuse(refusal::no_pitch);
    for (const auto lag : peaks)
        if (r[lag] >= good_share * highest)
            return period_reading{hertz{rate.value() / top_of_parabola(r, lag)}, r[lag]};
    return refuse(refusal::no_pitch);
}

}  // namespace cvrig::analysis
