#include "analysis/wave_pitch.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "analysis/steady_lines.hpp"

namespace cvrig::analysis {

namespace {

double harmonic_sum(const line_reader& spectrum, hertz f, int count) {
    double sum = 0.0;
    for (int k = 1; k <= count; ++k)
        sum += static_cast<double>(k) * k * std::norm(spectrum.at(f * static_cast<double>(k)));
    return sum;
}

}  // namespace

outcome<hertz> pitch_of_wave(const line_reader& spectrum, hertz expected, int count) {
    constexpr double fewest_periods = 24.0;
    if (!(expected.value() > 0.0) || count < 1) return refuse(refusal::bad_argument);
    const auto loudest = loudest_line(spectrum, expected * 0.4, expected * 2.6, {}, hertz{0.0});
    if (!loudest) return refuse(refusal::too_short);
    if (!loudest->stands_out()) return refuse(refusal::no_pitch);
    if (loudest->frequency / spectrum.bin_width() < fewest_periods)
        return refuse(refusal::too_short);

    const hertz highest = spectrum.bin_width() * (0.84 * static_cast<double>(spectrum.bins()));
    const int used = std::max(1, std::min(count, static_cast<int>(highest / loudest->frequency)));
    // The highest harmonic moves by a quarter of a bin from one trial to the next, a bin in all.
    const hertz step = spectrum.bin_width() * (0.25 / used);
    std::array<double, 9> score{};
    for (std::size_t i = 0; i < score.size(); ++i)
        score[i] = harmonic_sum(spectrum,
                                loudest->frequency + step * (static_cast<double>(i) - 4.0), used);
    const auto best = std::max_element(score.begin() + 1, score.end() - 1);
    const double bend = *(best - 1) - 2.0 * *best + *(best + 1);
    const double shift =
        bend < 0.0 ? std::clamp(0.5 * (*(best - 1) - *(best + 1)) / bend, -1.0, 1.0) : 0.0;
    return loudest->frequency + step * (static_cast<double>(best - score.begin()) - 4.0 + shift);
}

}  // namespace cvrig::analysis
