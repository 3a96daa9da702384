#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

#include "analysis/cutoff.hpp"
#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

constexpr double least_periods = 2.0;
constexpr std::size_t most_pieces = 4;

/// Boxes of whole periods that are folded into a window, as many and as equal as can be: a window of
/// n boxes has zeros of order n on all other harmonics, and what changes slowly leaks little.
std::vector<double> boxes_of(std::size_t periods) {
    const std::size_t count = std::min(periods, most_pieces);
    std::vector<double> out;
    for (std::size_t i = 0; i < count; ++i)
        out.push_back(static_cast<double>((periods + i) / count));
    return out;
}

/// One box convolved with the others, at a distance from the centre in periods: a sum of powers, of
/// which the left half has the fewest.
class folded_boxes {
public:
    explicit folded_boxes(std::size_t periods) {
        const auto boxes = boxes_of(periods);
        order_ = static_cast<int>(boxes.size()) - 1;
        half_ = 0.5 * static_cast<double>(periods);
        for (std::size_t which = 0; which < (std::size_t{1} << boxes.size()); ++which) {
            corner c{0.0, 1.0};
            for (std::size_t i = 0; i < boxes.size(); ++i)
                if ((which >> i & 1U) != 0) c = {c.at + boxes[i], -c.sign};
            if (c.at < half_) corners_.push_back(c);
        }
    }

    [[nodiscard]] double at(double from_centre) const {
        const double x = half_ - std::abs(from_centre);
        double sum = 0.0;
        for (const auto& c : corners_)
            if (x > c.at) sum += c.sign * std::pow(x - c.at, order_);
        return sum;
    }

private:
    struct corner {
        double at, sign;
    };
    std::vector<corner> corners_;
    int order_{0};
    double half_{0.0};
};

/// A window over whole periods, whose ends need not fall on samples.
struct placed_window {
    std::size_t first{0};
    std::size_t periods{0};
    std::vector<double> weights;
    double sum{0.0}, squares{0.0};
};

placed_window window_over(std::size_t samples, double period_samples) {
    const auto count = static_cast<double>(samples);
    const double periods = std::floor(count / period_samples);
    const double length = periods * period_samples;
    const double centre = 0.5 * (count - 1.0);
    placed_window out;
    out.first = static_cast<std::size_t>(std::ceil(std::max(0.0, centre - 0.5 * length)));
    out.periods = static_cast<std::size_t>(periods);
    const folded_boxes shape{out.periods};
    for (std::size_t i = out.first; i < samples; ++i) {
        const double from_centre = static_cast<double>(i) - centre;
        if (from_centre > 0.5 * length) break;
        const double w = shape.at(from_centre / period_samples);
        out.weights.push_back(w);
        out.sum += w;
        out.squares += w * w;
    }
    return out;
}

/// So many harmonics turn side by side, since each waits for its own turn before.
constexpr std::size_t abreast = 4;
using group = std::array<double, abreast>;

group lines_at(std::span<const double> weighted, const group& radians_per_sample) {
    group turn_re{}, turn_im{}, re{}, im{}, sum_re{}, sum_im{}, out{};
    for (std::size_t k = 0; k < abreast; ++k) {
        turn_re[k] = std::cos(radians_per_sample[k]);
        turn_im[k] = std::sin(radians_per_sample[k]);
        re[k] = 1.0;
    }
    for (const double v : weighted) {
        for (std::size_t k = 0; k < abreast; ++k) {
            sum_re[k] += v * re[k];
            sum_im[k] -= v * im[k];
            const double next = re[k] * turn_re[k] - im[k] * turn_im[k];
            im[k] = re[k] * turn_im[k] + im[k] * turn_re[k];
            re[k] = next;
        }
    }
    for (std::size_t k = 0; k < abreast; ++k) out[k] = std::hypot(sum_re[k], sum_im[k]);
    return out;
}

// A note that decays, or is a little off, leaks into its neighbours as the third power of their
// distance: 0.1 % for two periods of a note that falls by 1 % meanwhile, less for more.
volts leaked_into(std::size_t n, std::span<const harmonic_level> all, double periods) {
    const double share = 1e-3 * std::pow(2.0 / periods, 2.0);
    double sum = 0.0;
    for (const auto& other : all) {
        const double apart = static_cast<double>(other.number) - static_cast<double>(n);
        if (apart != 0.0) sum += other.peak.value() / std::abs(apart * apart * apart);
    }
    return volts{share * sum};
}

}  // namespace

std::vector<std::size_t> harmonics_up_to(hertz highest, hertz pitch) {
    constexpr std::size_t all_below = 6, finer = 5;
    std::vector<std::size_t> out;
    if (!(pitch > hertz{0.0})) return out;
    const double most = std::min(highest / pitch, 1e6);
    for (std::size_t n = 1; static_cast<double>(n) <= most; n += n < all_below ? 1 : n / finer)
        out.push_back(n);
    return out;
}

seconds harmonic_window_deviation(std::size_t periods, hertz pitch) {
    double variance = 0.0;
    for (const double box : boxes_of(periods)) variance += box * box / 12.0;
    return seconds{std::sqrt(variance) / pitch.value()};
}

outcome<std::vector<harmonic_level>> windowed_levels(std::span<const double> samples_volts,
                                                     sample_rate rate, hertz pitch,
                                                     std::span<const std::size_t> numbers,
                                                     volts noise) {
    const auto in_range = [&](std::size_t n) {
        return n > 0 && pitch * static_cast<double>(n) < rate.nyquist();
    };
    if (!(rate.value() > 0.0) || !(pitch > hertz{0.0}) || !(noise >= volts{0.0}) ||
        numbers.empty() || !std::ranges::all_of(numbers, in_range))
        return refuse(refusal::bad_argument);
    if (!all_finite(samples_volts)) return refuse(refusal::not_finite);
    const double period = rate.value() / pitch.value();
    if (static_cast<double>(samples_volts.size()) < least_periods * period)
        return refuse(refusal::too_short);
    const auto window = window_over(samples_volts.size(), period);
    std::vector<double> weighted(window.weights.size());
    for (std::size_t i = 0; i < weighted.size(); ++i)
        weighted[i] = window.weights[i] * samples_volts[window.first + i];
    if (std::ranges::all_of(weighted, [](double v) { return v == 0.0; }))
        return refuse(refusal::silent);
    const volts u{noise.value() * std::sqrt(2.0 * window.squares) / window.sum};
    std::vector<harmonic_level> out;
    for (std::size_t first = 0; first < numbers.size(); first += abreast) {
        const auto some = numbers.subspan(first, std::min(abreast, numbers.size() - first));
        group turns{};
        for (std::size_t k = 0; k < some.size(); ++k)
            turns[k] = 2.0 * std::numbers::pi * static_cast<double>(some[k]) / period;
        const auto sums = lines_at(weighted, turns);
        for (std::size_t k = 0; k < some.size(); ++k)
            out.push_back({some[k], volts{2.0 / window.sum * sums[k]}, u, u});
    }
    const auto periods = static_cast<double>(window.periods);
    const std::vector<harmonic_level> all = out;
    for (auto& level : out)
        level.u_peak = volts{
            std::hypot(level.u_peak.value(), leaked_into(level.number, all, periods).value())};
    return out;
}

}  // namespace cvrig::analysis
