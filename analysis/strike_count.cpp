#include "analysis/strike_count.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

using complex = std::complex<double>;

/// Means of `length` samples about each sample.
std::vector<complex> smoothed(const std::vector<complex>& x, std::size_t length) {
    std::vector<complex> out(x.size());
    complex sum{0.0};
    const std::size_t ahead = length / 2;
    for (std::size_t i = 0; i < x.size() + ahead; ++i) {
        if (i < x.size()) sum += x[i];
        if (i >= length) sum -= x[i - length];
        if (i >= ahead) out[i - ahead] = sum / static_cast<double>(length);
    }
    return out;
}

class counter {
public:
    counter(double floor, double ratio) : floor_{floor}, ratio_{ratio}, lowest_{floor} {}

    void look(seconds at, double level) {
        if (rising_) {
            if (level > top_) {
                top_ = level;
                found_.back().level = volts{level};
                found_.back().rise = to_decibels(level / before_);
            }
            if (level * ratio_ < top_) {
                rising_ = false;
                lowest_ = std::max(level, floor_);
            }
            return;
        }
        lowest_ = std::min(lowest_, std::max(level, floor_));
        // A tail that fades into the noise wavers about the floor; twice that no noise makes it.
        if (level < 2.0 * floor_ || level < lowest_ * ratio_) return;
        rising_ = true;
        top_ = level;
        before_ = lowest_;
        found_.push_back({at, volts{level}, to_decibels(level / before_)});
    }

    [[nodiscard]] std::vector<counted_strike> take() && { return std::move(found_); }

private:
    double floor_, ratio_;
    double lowest_;
    double top_{0.0}, before_{0.0};
    bool rising_{false};
    std::vector<counted_strike> found_;
};

}  // namespace

fundamental_course follow_fundamental(std::span<const double> volts, sample_rate rate,
                                      hertz pitch) {
    const double cycles = pitch.value() / rate.value();
    const auto period = static_cast<std::size_t>(std::max(1L, std::lround(1.0 / cycles)));
    std::vector<complex> turned(volts.size());
    complex turn{1.0};
    const complex step = std::polar(1.0, -2.0 * std::numbers::pi * cycles);
    for (std::size_t i = 0; i < volts.size(); ++i) {
        turned[i] = volts[i] * turn;
        turn *= step;
        if (i % 1024 == 1023) turn /= std::abs(turn);
    }
    const auto level = smoothed(smoothed(turned, period), period);
    const std::size_t hop = std::max<std::size_t>(1, period / 4);
    fundamental_course out{seconds{static_cast<double>(hop) / rate.value()}, {}};
    for (std::size_t i = 0; i < level.size(); i += hop)
        out.peak_volts.push_back(2.0 * std::abs(level[i]));
    return out;
}

outcome<std::vector<counted_strike>> count_strikes(std::span<const double> volts,
                                                   std::span<const double> silence,
                                                   sample_rate rate,
                                                   const strike_counting& request) {
    const double pitch = request.pitch.value();
    if (!(pitch > 0.0) || !(pitch < 0.25 * rate.value()) || !(request.smallest.value() > 0.1))
        return refuse(refusal::bad_argument);
    if (!all_finite(volts) || !all_finite(silence)) return refuse(refusal::not_finite);
    const double period = rate.value() / pitch;
    if (static_cast<double>(volts.size()) < 4.0 * period || silence.size() < 16)
        return refuse(refusal::too_short);
    // The offset alone would ripple through a window that is not a whole number of periods long.
    const double offset = mean(silence);
    std::vector<double> x(volts.begin(), volts.end());
    for (double& v : x) v -= offset;
    // Peak of the fundamental that white noise shows in a triangular window: sqrt(4/3) s / sqrt(P)
    // in each of two parts, times two for a peak.
    const double noise = 2.0 * deviation(silence) * std::sqrt(2.0 / 3.0 / period);
    // 52 dB below the loudest, and twice that to count: what pops in the end of a tail is no note.
    constexpr double of_loudest = 1.0 / 400.0;
    const auto course = follow_fundamental(x, rate, request.pitch);
    const double loudest = std::ranges::max(course.peak_volts);
    counter counts{std::max({10.0 * noise, of_loudest * loudest, 1e-6}),
                   to_voltage_ratio(request.smallest)};
    for (std::size_t i = 0; i < course.peak_volts.size(); ++i)
        counts.look(course.spacing * static_cast<double>(i), course.peak_volts[i]);
    return std::move(counts).take();
}

}  // namespace cvrig::analysis
