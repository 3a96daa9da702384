#include "analysis/loop_response.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "analysis/fourier.hpp"
#include "analysis/loop_signal.hpp"

namespace cvrig::analysis {

namespace {

constexpr std::size_t frame = 1024;
constexpr std::size_t hop = frame / 2;
constexpr std::size_t smoothing_each_way = 2;

std::vector<complex_volts> windowed_transform(std::span<const float> x) {
    std::vector<double> out(frame);
    for (std::size_t n = 0; n < frame; ++n) {
        const double s = std::sin(std::numbers::pi * static_cast<double>(n) / frame);
        out[n] = static_cast<double>(x[n]) * s * s;
    }
    return real_transform(out);
}

// Squared magnitude of the path at the bins 0 to frame / 2.
std::vector<double> power_response(std::span<const float> sent, std::span<const float> heard) {
    std::vector<complex_volts> cross(frame / 2 + 1);
    std::vector<double> power(frame / 2 + 1);
    for (std::size_t from = 0; from + frame <= sent.size(); from += hop) {
        const auto s = windowed_transform(sent.subspan(from, frame));
        const auto h = windowed_transform(heard.subspan(from, frame));
        for (std::size_t k = 0; k < cross.size(); ++k) {
            cross[k] += std::conj(s[k]) * h[k];
            power[k] += std::norm(s[k]);
        }
    }
    std::vector<double> out(cross.size());
    for (std::size_t k = 0; k < out.size(); ++k)
        out[k] = power[k] > 0.0 ? std::norm(cross[k] / power[k]) : 0.0;
    return out;
}

double mean_of(std::span<const double> x, std::size_t from, std::size_t to) {
    double sum = 0.0;
    for (auto k = from; k <= to; ++k) sum += x[k];
    return sum / static_cast<double>(to - from + 1);
}

}  // namespace

outcome<double> measure_loop_bandwidth(std::span<const float> sent, std::span<const float> heard) {
    if (sent.size() != heard.size()) return refuse(refusal::bad_argument);
    if (sent.size() < 4 * frame) return refuse(refusal::too_short);
    const auto response = power_response(sent, heard);
    const double low = mean_of(response, frame / 50, frame / 5);
    if (!(low > 0.0)) return refuse(refusal::silent);
    for (std::size_t k = frame / 2 - smoothing_each_way; k > frame / 5; --k)
        if (mean_of(response, k - smoothing_each_way, k + smoothing_each_way) > low / 2)
            return static_cast<double>(k) / frame;
    return 0.2;
}

outcome<leak_reading> measure_leak(std::span<const float> heard, std::span<const float> sequence,
                                   double amplitude) {
    constexpr std::ptrdiff_t reach = 2;
    constexpr std::size_t shortest = 1024;
    const auto samples = std::min(heard.size(), sequence.size());
    if (!(amplitude > 0.0)) return refuse(refusal::bad_argument);
    if (samples < shortest) return refuse(refusal::too_short);
    const auto high = split_by_mean(heard.first(samples), false).high;
    const padded_sequence sent{sequence.first(samples)};
    double power = 0.0;
    for (const float v : high) power += static_cast<double>(v) * static_cast<double>(v);
    const double count = static_cast<double>(samples);
    const double noise = power / count / count / (amplitude * amplitude);
    double squares = 0.0;
    for (auto lag = -reach; lag <= reach; ++lag) {
        const float* s = sent.at(-lag);
        double sum = 0.0;
        for (std::size_t n = 0; n < samples; ++n)
            sum += static_cast<double>(high[n]) * static_cast<double>(s[n]);
        const double ratio = sum / count / amplitude;
        squares += ratio * ratio;
    }
    constexpr double delays = 2 * reach + 1;
    return leak_reading{std::sqrt(std::max(squares - delays * noise, 0.0)), std::sqrt(noise)};
}

}  // namespace cvrig::analysis
