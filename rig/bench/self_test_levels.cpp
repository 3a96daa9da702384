#include "rig/bench/self_test_levels.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "analysis/fit.hpp"

namespace cvrig {

namespace {

// Part of a straight line below which the end of a stair counts as cut off.
constexpr double cut_off_part = 0.08;
constexpr double settling_seconds = 0.012;

double raised_cosine(std::size_t n, std::size_t count) {
    const double s =
        std::sin(std::numbers::pi * (static_cast<double>(n) + 0.5) / static_cast<double>(count));
    return s * s;
}

double weighted_mean(std::span<const float> x) {
    double sum = 0.0;
    for (std::size_t n = 0; n < x.size(); ++n)
        sum += static_cast<double>(x[n]) * raised_cosine(n, x.size());
    return 2.0 * sum / static_cast<double>(x.size());
}

double plain_mean(std::span<const float> x) {
    double sum = 0.0;
    for (const float v : x) sum += static_cast<double>(v);
    return sum / static_cast<double>(std::max<std::size_t>(x.size(), 1));
}

double amplitude_at(std::span<const float> x, double mean, double hertz_at, sample_rate rate) {
    const double step = 2 * std::numbers::pi * hertz_at / rate.value();
    std::complex<double> sum{};
    for (std::size_t n = 0; n < x.size(); ++n)
        sum += (static_cast<double>(x[n]) - mean) * raised_cosine(n, x.size()) *
               std::polar(1.0, -step * static_cast<double>(n));
    return 4.0 * std::abs(sum) / static_cast<double>(x.size());
}

double mains_rms(std::span<const float> x, double mean, double fundamental, sample_rate rate) {
    double squares = 0.0;
    for (const double harmonic : {1.0, 2.0, 3.0}) {
        const double a = amplitude_at(x, mean, harmonic * fundamental, rate);
        squares += a * a / 2;
    }
    return std::sqrt(squares);
}

// From the scatter of the power of 16 parts, so that slow and coloured noise is rated as it is.
estimate rms_about(std::span<const float> x, double mean) {
    constexpr std::size_t parts = 16;
    const auto length = x.size() / parts;
    double sum = 0.0;
    double squares = 0.0;
    for (std::size_t i = 0; i < parts; ++i) {
        double power = 0.0;
        for (const float v : x.subspan(i * length, length))
            power += (static_cast<double>(v) - mean) * (static_cast<double>(v) - mean);
        power /= static_cast<double>(std::max<std::size_t>(length, 1));
        sum += power;
        squares += power * power;
    }
    const double power = sum / parts;
    const double variance = std::max(squares / parts - power * power, 0.0) / (parts - 1);
    const double rms = std::sqrt(power);
    return {rms, rms > 0.0 ? std::sqrt(variance) / (2 * rms) : 0.0};
}

struct settled_step {
    double sent{0.0}, heard{0.0};
};

std::vector<settled_step> settled(std::span<const float> heard, std::span<const test_step> stair,
                                  std::ptrdiff_t lag, sample_rate rate) {
    const auto skip = static_cast<std::size_t>(std::lround(settling_seconds * rate.value()));
    std::vector<settled_step> out;
    for (const auto& step : stair) {
        const auto from = static_cast<std::ptrdiff_t>(step.part.from + skip) + lag;
        const auto samples = step.part.samples - skip - skip / 4;
        if (from < 0 || static_cast<std::size_t>(from) + samples > heard.size()) return {};
        out.push_back({step.level.value(),
                       weighted_mean(heard.subspan(static_cast<std::size_t>(from), samples))});
    }
    return out;
}

std::vector<settled_step> inner_half(std::span<const settled_step> all) {
    double most = 0.0;
    for (const auto& s : all) most = std::max(most, std::abs(s.sent));
    std::vector<settled_step> out;
    for (const auto& s : all)
        if (std::abs(s.sent) <= 0.51 * most) out.push_back(s);
    return out;
}

std::optional<analysis::line_fit> line_through(std::span<const settled_step> points) {
    std::vector<double> x, y;
    for (const auto& p : points) {
        x.push_back(p.sent);
        y.push_back(p.heard);
    }
    const auto line = analysis::fit_line(x, y);
    if (!line) return std::nullopt;
    return *line;
}

// The line's uncertainty for points that are known to `u`, whatever few of them scatter.
double slope_u(std::span<const settled_step> points, double u) {
    double mean = 0.0;
    for (const auto& p : points) mean += p.sent / static_cast<double>(points.size());
    double squares = 0.0;
    for (const auto& p : points) squares += (p.sent - mean) * (p.sent - mean);
    return squares > 0.0 ? u / std::sqrt(squares) : u;
}

bool falls_short(const settled_step& p, const analysis::line_fit& line) {
    const double expected = line.at(p.sent) - line.intercept;
    const double missing = expected - (p.heard - line.intercept);
    return missing * (expected < 0.0 ? -1.0 : 1.0) > cut_off_part * std::abs(expected);
}

std::vector<double> block_means(std::span<const float> x, std::size_t block) {
    std::vector<double> out;
    for (std::size_t from = 0; from + block <= x.size(); from += block)
        out.push_back(plain_mean(x.subspan(from, block)));
    return out;
}

// From the first and second half; for a level that is gone at once, from its area.
double droop_to_begin_with(std::span<const double> levels, double seconds_each) {
    const auto half = levels.size() / 2;
    double first = 0.0;
    double second = 0.0;
    for (std::size_t i = 0; i < half; ++i) {
        first += levels[i];
        second += levels[half + i];
    }
    const double ratio = first != 0.0 ? second / first : 0.0;
    if (ratio > 0.02) return -std::log(ratio) / (seconds_each * static_cast<double>(half));
    return levels.front() / ((first + second) * seconds_each);
}

}  // namespace

estimate rest_levels::other_rms_volts() const noexcept {
    const double power =
        rms_volts.value * rms_volts.value - mains_rms_volts.value * mains_rms_volts.value;
    const double rms = std::sqrt(std::max(power, 0.0));
    const double u_power =
        2 * std::hypot(rms_volts.value * rms_volts.u, mains_rms_volts.value * mains_rms_volts.u);
    // Upwards, which stays small where nearly all is mains.
    return {rms, std::sqrt(rms * rms + u_power) - rms};
}

rest_levels measure_rest(std::span<const float> x, sample_rate rate) {
    rest_levels out;
    if (x.empty()) return out;
    const double mean = weighted_mean(x);
    out.mean = volts{mean};
    out.rms_volts = rms_about(x, plain_mean(x));
    const double at_50 = mains_rms(x, mean, 50.0, rate);
    const double at_60 = mains_rms(x, mean, 60.0, rate);
    out.mains_hz = at_60 > at_50 ? 60.0 : 50.0;
    const double u = out.rms_volts.value * std::sqrt(3.0 / static_cast<double>(x.size()));
    out.mains_rms_volts = {std::max(at_50, at_60), u};
    return out;
}

std::optional<stair_levels> measure_stair(std::span<const float> heard,
                                          std::span<const test_step> stair, std::ptrdiff_t lag,
                                          sample_rate rate, const rest_levels& noise) {
    const auto points = settled(heard, stair, lag, rate);
    const auto middle = inner_half(points);
    const auto straight = line_through(middle);
    const auto whole = line_through(points);
    if (!straight || !whole) return std::nullopt;
    const bool lower = falls_short(points.front(), *straight);
    const bool upper = falls_short(points.back(), *straight);
    stair_levels out;
    out.cut_off = lower || upper;
    const auto& line = out.cut_off ? *straight : *whole;
    const auto& used = out.cut_off ? middle : points;
    const auto samples = static_cast<double>(stair.front().part.samples);
    // A raised cosine keeps 3/2 of the noise of a plain mean and a thirtieth of the mains.
    const double u = std::hypot(noise.rms_volts.value * std::sqrt(1.5 / samples),
                                noise.mains_rms_volts.value / 30.0, 1e-6);
    out.gain = {line.slope, std::max(slope_u(used, u), line.u_slope)};
    out.offset_volts = {line.intercept, std::max(u / std::sqrt(static_cast<double>(used.size())),
                                                 line.u_intercept)};
    for (const auto& p : points) {
        const double departure = std::abs(p.heard - line.at(p.sent));
        if (departure >= out.departure_volts.value) {
            out.departure_volts.value = departure;
            out.worst_level = p.sent;
        }
        out.reached_volts = std::max(out.reached_volts, std::abs(p.heard));
    }
    out.departure_volts.u = u;
    return out;
}

std::optional<estimate> measure_droop_per_second(std::span<const float> heard,
                                                 const test_part& gate, std::ptrdiff_t lag,
                                                 sample_rate rate, volts at_rest) {
    const auto block = static_cast<std::size_t>(std::lround(0.001 * rate.value()));
    const auto from = static_cast<std::ptrdiff_t>(gate.from + 2 * block) + lag;
    if (from < 0 || static_cast<std::size_t>(from) + gate.samples > heard.size() ||
        gate.samples < 50 * block)
        return std::nullopt;
    auto levels =
        block_means(heard.subspan(static_cast<std::size_t>(from), gate.samples - 4 * block), block);
    for (double& v : levels) v -= at_rest.value();
    const double each = static_cast<double>(block) / rate.value();
    const double rate_guess = droop_to_begin_with(levels, each);
    if (!std::isfinite(rate_guess)) return std::nullopt;
    const analysis::fit_model model{
        .points = levels.size(),
        .residuals =
            [&](std::span<const double> p, std::span<double> out) {
                for (std::size_t i = 0; i < levels.size(); ++i)
                    out[i] = p[0] * std::exp(-p[1] * each * static_cast<double>(i)) - levels[i];
            },
        .jacobian =
            [&](std::span<const double> p, std::span<double> out) {
                for (std::size_t i = 0; i < levels.size(); ++i) {
                    const double t = each * static_cast<double>(i);
                    const double e = std::exp(-p[1] * t);
                    out[2 * i] = e;
                    out[2 * i + 1] = -p[0] * t * e;
                }
            }};
    const auto fit =
        analysis::fit_nonlinear(model, std::vector<double>{levels.front(), rate_guess});
    if (!fit) return std::nullopt;
    return estimate{fit->parameters[1], fit->standard_uncertainty(1)};
}

}  // namespace cvrig
