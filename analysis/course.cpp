#include "analysis/course.hpp"
#include "analysis/samples.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numbers>
#include <vector>

namespace cvrig::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr double fewest_cycles = 4.0;

std::vector<double> phase_of(std::span<const hertz> course, sample_rate rate) {
    std::vector<double> cycles;
    cycles.reserve(course.size());
    double sum = 0.0;
    for (const hertz f : course) {
        cycles.push_back(sum);
        sum += f.value() / rate.value();
    }
    return cycles;
}

std::complex<double> demodulated(std::span<const double> record, std::span<const double> cycles,
                                 std::size_t begin, std::size_t length) {
    double mean = 0.0;
    for (std::size_t i = 0; i < length; ++i)
        mean += record[begin + i] / static_cast<double>(length);
    std::complex<double> sum{};
    for (std::size_t i = 0; i < length; ++i) {
        const double hann = 0.5 - 0.5 * std::cos(two_pi * (static_cast<double>(i) + 0.5) /
                                                 static_cast<double>(length));
        sum += hann * (record[begin + i] - mean) * std::polar(1.0, -two_pi * cycles[begin + i]);
    }
    return sum;
}

struct turned_by {
    double relative;  // difference of frequency over mean frequency
    double per_volt;  // its standard uncertainty for white noise of 1 V RMS
};

// From two windows of `share` of the record. A Hann window of L values reads the phase of amplitude A
// to noise * sqrt(3 / L) / A; of two, half over each other, a sixth of the variance is common.
turned_by relative_offset(std::span<const double> record, std::span<const double> cycles,
                          double share) {
    const auto length = static_cast<std::size_t>(share * static_cast<double>(record.size()));
    const std::size_t later = record.size() - length;
    const auto a = demodulated(record, cycles, 0, length);
    const auto b = demodulated(record, cycles, later, length);
    const double turned = std::arg(b * std::conj(a)) / two_pi;
    const double expected = cycles[later + length / 2] - cycles[length / 2];
    const double amplitude = 4.0 * std::abs(b) / static_cast<double>(length);
    const double u_phase = std::sqrt(3.0 / static_cast<double>(length)) / amplitude;
    return {turned / expected, std::sqrt(2.0 * (1.0 - 1.0 / 6.0)) * u_phase / two_pi / expected};
}

double to_cents_of(double relative) {
    return 1200.0 * std::log2(1.0 + relative);
}

}  // namespace

outcome<course_reading> measure_offset(std::span<const double> record,
                                       std::span<const hertz> course, sample_rate rate,
                                       volts noise_rms) {
    if (record.size() != course.size() || !(rate.value() > 0.0) || !(noise_rms >= volts{0.0}))
        return refuse(refusal::bad_argument);
    if (!std::ranges::all_of(course, [](hertz f) { return f.value() > 0.0; }))
        return refuse(refusal::bad_argument);
    if (record.size() < 64) return refuse(refusal::too_short);
    if (!all_finite(record)) return refuse(refusal::not_finite);
    const auto cycles = phase_of(course, rate);
    if (cycles.back() < fewest_cycles) return refuse(refusal::too_short);
    if (std::ranges::all_of(record, [&](double v) { return v == record[0]; }))
        return refuse(refusal::silent);
    const auto turned = relative_offset(record, cycles, 2.0 / 3.0);
    if (!std::isfinite(turned.per_volt)) return refuse(refusal::silent);
    const double main = to_cents_of(turned.relative);
    const std::array others{to_cents_of(relative_offset(record, cycles, 0.62).relative),
                            to_cents_of(relative_offset(record, cycles, 0.71).relative)};
    const double disagreement = std::max(std::abs(others[0] - main), std::abs(others[1] - main));
    const double of_noise = to_cents_of(turned.per_volt * noise_rms.value());
    return course_reading{cents{main}, cents{std::hypot(disagreement, of_noise)}};
}

}  // namespace cvrig::analysis
