#include "analysis/transients_growth.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "analysis/best_repeat.hpp"

namespace cvrig::analysis {
namespace {

constexpr double most_growth = 1.4142135623730951;
// A corner grows by 2, and so does the share of noise in that growth. A growth is told from that by so
// many deviations of the noise: a corner that hardly stands out must not pass for a step.
constexpr double growth_of_a_corner = 2.0, sure_of_growth = 8.0;
// A wave that is so much larger than the peak hides it anyhow.
constexpr double hopeless = 4.0;
// By these the period before a place is found: 25 ms are 40 Hz.
constexpr seconds compared{0.004}, longest_period{0.025};
// A wave repeats only where the rest is this small against the click.
constexpr double repeats_to = 0.25;

double largest_near(const abruptness_filter& filter, std::span<const double> volts,
                    std::size_t sample, std::size_t reach) {
    double most = 0.0;
    const std::size_t first = sample > reach ? sample - reach : 0;
    for (std::size_t i = first; i <= std::min(sample + reach, volts.size() - 1); ++i)
        most = std::max(most, filter.at(volts, i).square());
    return std::sqrt(most);
}

/// A record less what it was one period before, as loud as it has become and moved by the fraction of a
/// sample that the period is longer: fitted to the stretch before a place.
struct repeat_fit {
    std::size_t lag{1};
    double gain{1.0}, moved{0.0};  // per sample, of the slope

    [[nodiscard]] double slope(std::span<const double> x, std::size_t i) const {
        return 0.5 * (x[i - lag + 1] - x[i - lag - 1]);
    }
    [[nodiscard]] double rest(std::span<const double> x, std::size_t i) const {
        return x[i] - gain * x[i - lag] - moved * slope(x, i);
    }
};

// Least squares with two unknowns.
repeat_fit fitted_repeat(std::span<const double> x, std::size_t first, std::size_t last,
                         std::size_t lag) {
    repeat_fit out{.lag = lag};
    double vv = 0.0, vs = 0.0, ss = 0.0, xv = 0.0, xs = 0.0;
    for (std::size_t i = first; i < last; ++i) {
        const double v = x[i - lag], s = out.slope(x, i);
        vv += v * v;
        vs += v * s;
        ss += s * s;
        xv += x[i] * v;
        xs += x[i] * s;
    }
    const double determinant = vv * ss - vs * vs;
    if (!(determinant > 0.0)) return out;
    out.gain = (ss * xv - vs * xs) / determinant;
    out.moved = (vv * xs - vs * xv) / determinant;
    return out;
}

// What is left around a place when the wave is taken off as it was a period before. The period is the
// lag at which the stretch before the place repeats best. Empty where there is none, or where the
// stretch repeats no better than to `most_rest_v`.
std::vector<double> unlike_the_period_before(std::span<const double> volts, std::size_t sample,
                                             std::size_t beside, std::size_t shortest_lag,
                                             sample_rate rate, double most_rest_v) {
    const auto length = static_cast<std::size_t>(compared.value() * rate.value());
    if (sample + beside >= volts.size() || sample < beside + length + shortest_lag + 1) return {};
    const std::size_t end = sample - beside;
    const auto lag =
        best_repeat(volts.subspan(1),
                    {.first = end - length - 1,
                     .last = end - 1,
                     .shortest = shortest_lag,
                     .longest = static_cast<std::size_t>(longest_period.value() * rate.value()),
                     .where = repeats::before});
    if (!lag) return {};
    const auto fit = fitted_repeat(volts, end - length, end, *lag);
    double squares = 0.0;
    for (std::size_t i = end - length; i < end; ++i) squares += std::pow(fit.rest(volts, i), 2);
    if (squares > most_rest_v * most_rest_v * static_cast<double>(length)) return {};
    std::vector<double> out;
    for (std::size_t i = end; i <= sample + beside; ++i) out.push_back(fit.rest(volts, i));
    return out;
}

}  // namespace

growth_ear::growth_ear(std::span<const double> volts, sample_rate rate, hertz highest_pitch)
    : volts_{volts},
      rate_{rate},
      narrow_{click_width, rate},
      wide_{click_width * 2.0, rate},
      near_{static_cast<std::size_t>(2.0 * click_width.value() * rate.value()) + 1},
      shortest_lag_{static_cast<std::size_t>(0.9 * rate.value() / highest_pitch.value())} {}

double growth_ear::of(const sharp_peak& p, double noise_v) const {
    const double growth = largest_near(wide_, volts_, p.sample, near_) / p.size_v;
    if (is_no_corner(growth, noise_v / p.size_v) || growth > hopeless) return growth;
    const std::size_t beside = wide_.reach() + near_;
    const auto rest = unlike_the_period_before(volts_, p.sample, beside, shortest_lag_, rate_,
                                               repeats_to * p.size_v);
    if (rest.empty()) return growth;
    const double size = largest_near(narrow_, rest, beside, near_);
    const double other = largest_near(wide_, rest, beside, near_) / size;
    // Not one that the wave before had as well.
    return size > 0.7 * p.size_v && is_no_corner(other, std::sqrt(2.0) * noise_v / size) ? other
                                                                                         : growth;
}

bool growth_ear::is_no_corner(double growth, double relative_noise) {
    return growth <= most_growth &&
           growth * (1.0 + sure_of_growth * relative_noise) <= growth_of_a_corner;
}

}  // namespace cvrig::analysis
