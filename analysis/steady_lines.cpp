#include "analysis/steady_lines.hpp"

#include <algorithm>
#include <cmath>

namespace cvrig::analysis {

namespace {

constexpr double mains_share = 0.005;
constexpr double fewest_bins_below = 16.0;

std::vector<steady_line> lines_at(const line_reader& spectrum, hertz first, std::size_t multiples,
                                  std::span<const volts> u) {
    std::vector<steady_line> out;
    for (std::size_t k = 1; k <= multiples; ++k) {
        const hertz f = first * static_cast<double>(k);
        out.push_back({f, volts{std::abs(spectrum.at(f))}, u[k - 1]});
    }
    return out;
}

double likelihood(const line_reader& spectrum, hertz first, std::span<const volts> u) {
    double sum = 0.0;
    for (const auto& line : lines_at(spectrum, first, u.size(), u)) {
        const double over = line.peak / volts{std::max(line.u.value(), 1e-15)};
        sum += over * over;
    }
    return sum;
}

// Where a parabola through three equally spaced values has its top, in spacings from the middle.
double top_of(double before, double middle, double after) noexcept {
    const double bend = before - 2.0 * middle + after;
    return bend < 0.0 ? std::clamp(0.5 * (before - after) / bend, -0.5, 0.5) : 0.0;
}

}  // namespace

bool steady_line::stands_out(double places) const noexcept {
    // |a|^2 / (2 u^2) is distributed exponentially; ln 10^6 = 13.8.
    return peak.value() * peak.value() > 2.0 * (13.8 + std::log(places)) * u.value() * u.value();
}

std::vector<steady_line> mains_lines(const line_reader& spectrum, hertz nominal,
                                     std::size_t multiples) {
    if (multiples == 0 || nominal / spectrum.bin_width() < fewest_bins_below) return {};
    std::vector<volts> u;
    for (std::size_t k = 1; k <= multiples; ++k)
        u.push_back(spectrum.noise_near(nominal * static_cast<double>(k)));
    // The highest multiple moves by a quarter of a bin at most from one trial to the next.
    const double step_hz = 0.25 * spectrum.bin_width().value() / static_cast<double>(multiples);
    const auto reach = static_cast<int>(std::ceil(mains_share * nominal.value() / step_hz));
    std::vector<double> score;
    for (int i = -reach - 1; i <= reach + 1; ++i)
        score.push_back(likelihood(spectrum, nominal + hertz{step_hz * i}, u));
    const auto best = std::max_element(score.begin() + 1, score.end() - 1);
    const auto at = static_cast<double>(best - score.begin()) - 1.0 - static_cast<double>(reach);
    const double shift = top_of(*(best - 1), *best, *(best + 1));
    return lines_at(spectrum, nominal + hertz{step_hz * (at + shift)}, multiples, u);
}

std::optional<steady_line> loudest_line(const line_reader& spectrum, hertz lowest, hertz highest,
                                        std::span<const hertz> left_out, hertz near) {
    const double width = spectrum.bin_width().value();
    const auto first = static_cast<std::size_t>(std::ceil(lowest.value() / width));
    const auto end = std::min(spectrum.bins() - 1,
                              static_cast<std::size_t>(std::floor(highest.value() / width)) + 1);
    std::size_t loudest = 0;
    for (std::size_t k = std::max<std::size_t>(first, 1); k < end; ++k) {
        if (loudest != 0 && spectrum.power_in_bin(k) <= spectrum.power_in_bin(loudest)) continue;
        const double f = static_cast<double>(k) * width;
        const bool out = std::ranges::any_of(
            left_out, [&](hertz l) { return std::abs(l.value() - f) < near.value(); });
        if (!out) loudest = k;
    }
    if (loudest == 0) return std::nullopt;
    const hertz f = spectrum.interpolated(loudest);
    return steady_line{f, volts{std::abs(spectrum.at(f))}, spectrum.noise_near(f)};
}

}  // namespace cvrig::analysis
