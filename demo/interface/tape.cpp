#include "demo/interface/tape.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ferrule {
namespace {

constexpr std::size_t remembered = std::size_t{1} << 17U;
constexpr double most_late_samples = static_cast<double>(remembered) - 64.0;
constexpr std::size_t half_taps = 16;
constexpr std::size_t fractions = 4096;
constexpr double moved_volts = 0.05;

/// What a sound system keeps between two clocks, before it throws samples away or puts some in.
constexpr double buffer_seconds = 0.25;

/// Enough for half a minute of running fast, as far as the buffer goes.
double reserve_for_speed(double ppm, double rate_hertz) {
    return std::min(std::max(0.0, ppm) * 1e-6 * 30.0, buffer_seconds) * rate_hertz;
}

/// A low-pass at half the sample rate, ended by a raised cosine.
double resampling_weight(double t_samples) {
    const double x = t_samples / static_cast<double>(half_taps);
    if (std::abs(x) >= 1.0) return 0.0;
    const double angle = std::numbers::pi * t_samples;
    const double ring = t_samples == 0.0 ? 1.0 : std::sin(angle) / angle;
    return ring * (0.5 + 0.5 * std::cos(std::numbers::pi * x));
}

/// table[tap * fractions + i]: the weight of a tap when the place lies i / fractions further on.
const std::vector<double>& weight_table() {
    static const std::vector<double> table = [] {
        std::vector<double> made(2 * half_taps * fractions + 1, 0.0);
        for (std::size_t i = 0; i < made.size(); ++i) {
            made[i] = resampling_weight(static_cast<double>(i) / static_cast<double>(fractions) -
                                        static_cast<double>(half_taps));
        }
        return made;
    }();
    return table;
}

}  // namespace

tape::tape(double rate_hertz)
    : rate_hertz_{rate_hertz}, weights_{weight_table()}, past_(remembered, 0.0) {}

void tape::set(const tape_faults& faults) noexcept {
    if (faults == faults_) return;
    faults_ = faults;
    constexpr double drops_in_reserve = 30.0;
    begin_late_samples_ = std::max(0.0, faults.delay_samples) +
                          std::abs(faults.drop_samples) * drops_in_reserve +
                          std::abs(faults.drop_once_samples);
    if (faults.resample_ppm != 0.0) {
        begin_late_samples_ +=
            static_cast<double>(half_taps) + reserve_for_speed(faults.resample_ppm, rate_hertz_);
    }
    begin_late_samples_ = std::min(std::round(begin_late_samples_), most_late_samples);
    late_samples_ = begin_late_samples_;
    since_slip_samples_ = 0.0;
    since_moved_samples_ = -1.0;
    resting_known_ = false;
    slipped_once_ = false;
}

double tape::at(std::size_t samples_ago) const noexcept {
    return past_[(now_ + remembered - samples_ago) % remembered];
}

double tape::played() const noexcept {
    const auto whole = static_cast<std::size_t>(late_samples_);
    if (faults_.resample_ppm == 0.0) return at(whole);
    const double part = late_samples_ - static_cast<double>(whole);
    const auto fraction = static_cast<std::size_t>((1.0 - part) * static_cast<double>(fractions));
    double sum = 0.0;
    for (std::size_t tap = 0; tap < 2 * half_taps; ++tap) {
        sum += at(whole + tap + 1 - half_taps) * weights_[tap * fractions + fraction];
    }
    return sum;
}

void tape::slip_once(double volts) noexcept {
    const double once = std::abs(faults_.drop_once_samples) - std::abs(faults_.repeat_once_samples);
    if (once == 0.0 || slipped_once_) return;
    if (!resting_known_) rest_volts_ = volts;
    resting_known_ = true;
    if (since_moved_samples_ < 0.0 && std::abs(volts - rest_volts_) < moved_volts) return;
    since_moved_samples_ += 1.0;
    if (since_moved_samples_ < 0.5 * rate_hertz_) return;
    late_samples_ -= once;
    slipped_once_ = true;
}

void tape::slip(double volts) noexcept {
    slip_once(volts);
    const double often = std::abs(faults_.drop_samples) - std::abs(faults_.repeat_samples);
    since_slip_samples_ += 1.0;
    if (often != 0.0 && since_slip_samples_ >= rate_hertz_) {
        late_samples_ -= often;
        since_slip_samples_ = 0.0;
    }
    late_samples_ -= faults_.resample_ppm * 1e-6;
    const double least = faults_.resample_ppm == 0.0 ? 0.0 : static_cast<double>(half_taps);
    const double most = faults_.resample_ppm < 0.0
                            ? begin_late_samples_ + buffer_seconds * rate_hertz_
                            : most_late_samples;
    if (late_samples_ < least || late_samples_ > std::min(most, most_late_samples)) {
        late_samples_ = std::max(least, begin_late_samples_);
    }
}

double tape::next(double volts) noexcept {
    now_ = (now_ + 1) % remembered;
    past_[now_] = volts;
    if (faults_ == tape_faults{}) return volts;
    slip(volts);
    return played();
}

}  // namespace ferrule
