#include "analysis/stereo.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <optional>
#include <vector>

#include "analysis/correlation.hpp"
#include "analysis/interpolation.hpp"
#include "analysis/samples.hpp"

namespace cvrig::analysis {

namespace {

constexpr std::size_t shortest_record = 1024;
constexpr std::size_t search_length = 4096;
constexpr std::size_t parts = 16;

struct pair_of_channels {
    std::vector<double> left, right;  ///< volts, DC removed
};

struct range {
    std::size_t from, to;
};

/// gain * left(n - delay) matched to right, with what is left over.
struct match {
    double gain{0};
    double step{0};  ///< change of delay that the match asks for, samples
    double u_gain{0}, u_delay{0};
    double explained_power{0}, rest_power{0};
};

void remove_dc(std::span<double> x) {
    const double level = mean(x);
    for (double& v : x) v -= level;
}

std::vector<double> without_dc(std::span<const double> x) {
    std::vector<double> out(x.begin(), x.end());
    remove_dc(out);
    return out;
}

double rms(std::span<const double> x) {
    return std::sqrt(dot(x, x) / static_cast<double>(x.size()));
}

decibels depth(double ratio) {
    return to_decibels(std::max(ratio, std::numeric_limits<double>::epsilon()));
}

/// The loudest stretch of the left channel, in which the delay is looked for.
range loudest_stretch(std::span<const double> x) {
    const std::size_t length = std::min(search_length, x.size());
    range best{0, length};
    double most = -1;
    for (std::size_t from = 0; from + length <= x.size(); from += length / 2) {
        const auto stretch = x.subspan(from, length);
        const double energy = dot(stretch, stretch);
        if (energy > most) {
            most = energy;
            best = {from, from + length};
        }
    }
    return best;
}

struct normal_equations {
    double aa, ab, bb, determinant;
};

/// Adds up, part by part, how much the rest pulls on gain (a) and delay (b): parts that pull at
/// random say how uncertain both are, whatever the colour of the rest.
void judge(match& m, const delayed_record& a, std::span<const double> rest,
           const normal_equations& e) {
    double gain_variance = 0, step_variance = 0;
    const std::size_t n = rest.size();
    for (std::size_t i = 0; i < parts; ++i) {
        const std::size_t from = i * n / parts, length = (i + 1) * n / parts - from;
        const auto part = rest.subspan(from, length);
        const double pull_a = dot(std::span{a.value}.subspan(from, length), part);
        const double pull_b = dot(std::span{a.change}.subspan(from, length), part);
        const double on_gain = (e.bb * pull_a - e.ab * pull_b) / e.determinant;
        const double on_step = (e.aa * pull_b - e.ab * pull_a) / e.determinant / m.gain;
        gain_variance += on_gain * on_gain;
        step_variance += on_step * on_step;
    }
    // Two parameters were taken from them, and a scatter of few is known badly: the variance of
    // Student's distribution.
    const double few_parts = static_cast<double>(parts) / (parts - 3);
    m.u_gain = std::sqrt(gain_variance * few_parts);
    m.u_delay = std::sqrt(step_variance * few_parts);
}

/// One linearised least-squares step for gain and delay over a range of the right channel.
std::optional<match> match_at(const pair_of_channels& c, double delay_samples, range over) {
    auto a = delay_by(c.left, delay_samples, over.from, over.to);
    if (a.value.size() < shortest_record / 2) return std::nullopt;
    auto rest = without_dc(std::span{c.right}.subspan(a.first, a.value.size()));
    // An unfinished period has a mean of its own, which is not the same in the delayed channel.
    remove_dc(a.value);
    remove_dc(a.change);
    normal_equations e{dot(a.value, a.value), dot(a.value, a.change), dot(a.change, a.change), 0};
    e.determinant = e.aa * e.bb - e.ab * e.ab;
    if (!(e.determinant > 0)) return std::nullopt;
    const double ar = dot(a.value, rest), br = dot(a.change, rest);

    match m;
    m.gain = (e.bb * ar - e.ab * br) / e.determinant;
    const double slope = (e.aa * br - e.ab * ar) / e.determinant;
    if (m.gain == 0) return std::nullopt;
    m.step = slope / m.gain;
    for (std::size_t i = 0; i < rest.size(); ++i)
        rest[i] -= m.gain * a.value[i] + slope * a.change[i];
    m.rest_power = dot(rest, rest);
    m.explained_power = m.gain * m.gain * e.aa;
    judge(m, a, rest, e);
    return m;
}

struct alignment {
    double delay_samples;
    match at;
};

/// Repeats match_at until the delay stands still.
std::optional<alignment> settle(const pair_of_channels& c, double delay, range over,
                                double longest) {
    constexpr double still_samples = 1e-4;  // the next error is about its square
    for (int i = 0; i < 12; ++i) {
        const auto m = match_at(c, delay, over);
        if (!m) return std::nullopt;
        delay += std::clamp(m->step, -1.0, 1.0);
        if (std::abs(delay) > longest + 1) return std::nullopt;
        if (std::abs(m->step) < still_samples) return alignment{delay, *m};
    }
    return std::nullopt;
}

std::optional<alignment> align(const pair_of_channels& c, double longest_samples) {
    const auto stretch = loudest_stretch(c.left);
    const std::size_t length = stretch.to - stretch.from;
    const std::size_t quarter = length / 4;
    const double limit = std::min(std::ceil(longest_samples) + 1, static_cast<double>(quarter));
    const auto longest = static_cast<std::size_t>(limit);
    const auto coefficients = correlation_by_lag(std::span{c.left}.subspan(stretch.from, length),
                                                 std::span{c.right}.subspan(stretch.from, length),
                                                 longest + kernel_reach);
    const auto lag = nearest_good_lag(coefficients, longest);
    if (!lag) return std::nullopt;
    const auto rough = settle(c, *lag, stretch, limit);
    if (!rough) return std::nullopt;
    return settle(c, rough->delay_samples, {0, c.left.size()}, limit);
}

std::optional<refusal> objection(std::span<const double> left, std::span<const double> right,
                                 sample_rate rate, const stereo_options& options) {
    if (!(rate.value() > 0) || !std::isfinite(rate.value()) || left.size() != right.size() ||
        !(options.longest_delay.value() >= 0) || !std::isfinite(options.longest_delay.value()))
        return refusal::bad_argument;
    if (left.size() < shortest_record) return refusal::too_short;
    if (!all_finite(left) || !all_finite(right)) return refusal::not_finite;
    return std::nullopt;
}

stereo_reading report(const alignment& found, const pair_of_channels& c, sample_rate rate) {
    std::vector<double> difference(c.left.size());
    std::transform(c.right.begin(), c.right.end(), c.left.begin(), difference.begin(),
                   std::minus{});
    const match& m = found.at;
    stereo_reading reading;
    reading.gain_difference = to_decibels(std::abs(m.gain));
    reading.u_gain = decibels{20 / std::log(10.0) * m.u_gain / std::abs(m.gain)};
    reading.inverted = m.gain < 0;
    reading.delay = rate.period() * found.delay_samples;
    reading.u_delay = rate.period() * m.u_delay;
    reading.null_depth = depth(rms(difference) / rms(c.left));
    reading.aligned_null_depth = depth(std::sqrt(m.rest_power / m.explained_power));
    return reading;
}

}  // namespace

outcome<stereo_reading> compare_channels(std::span<const double> left_volts,
                                         std::span<const double> right_volts, sample_rate rate,
                                         const stereo_options& options) {
    if (const auto reason = objection(left_volts, right_volts, rate, options))
        return refuse(*reason);
    const pair_of_channels channels{without_dc(left_volts), without_dc(right_volts)};
    if (rms(channels.left) < options.quiet.value() || rms(channels.right) < options.quiet.value())
        return refuse(refusal::silent);
    const auto found = align(channels, options.longest_delay.value() * rate.value());
    if (!found) return refuse(refusal::no_fit);
    // Correlation below 0.5 means that more than three times as much is unexplained as explained.
    if (found->at.rest_power > 3 * found->at.explained_power) return refuse(refusal::no_fit);
    return report(*found, channels, rate);
}

}  // namespace cvrig::analysis
