#include "analysis/gain_course.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

/// Squares of a cycle's values and of its slopes.
struct shape {
    double value{0.0}, slope{0.0};
    shape& operator+=(const shape& other) noexcept {
        value += other.value;
        slope += other.slope;
        return *this;
    }
};

/// One cycle of a record, which can be asked for at any sample.
class repeated_cycle {
public:
    repeated_cycle(std::span<const double> x, double begin, double period, double offset)
        : x_{x}, begin_{begin}, period_{period}, offset_{offset} {}

    [[nodiscard]] double at(double sample) const noexcept {
        const double turns = std::floor((sample - begin_) / period_);
        const double place = sample - turns * period_;
        const double whole = std::floor(place);
        const auto k = std::min(static_cast<std::size_t>(std::max(0.0, whole)), x_.size() - 1);
        const double f = place - whole;
        return (1.0 - f) * x_[k] + f * x_[std::min(k + 1, x_.size() - 1)] - offset_;
    }

    [[nodiscard]] double slope_at(double sample) const noexcept {
        return at(sample + 0.5) - at(sample - 0.5);
    }

    /// Mean squares over the whole cycle: of the values, and of the slopes.
    [[nodiscard]] shape mean_square() const noexcept {
        shape out;
        const auto n = static_cast<std::size_t>(period_);
        for (std::size_t i = 0; i < n; ++i) out += point(begin_ + static_cast<double>(i));
        return {out.value / static_cast<double>(n), out.slope / static_cast<double>(n)};
    }

    [[nodiscard]] shape point(double sample) const noexcept {
        const double v = at(sample);
        const double s = slope_at(sample);
        return {v * v, s * s};
    }

private:
    std::span<const double> x_;
    double begin_, period_, offset_;
};

std::optional<refusal> unusable(std::span<const double> volts, std::span<const double> silence,
                                sample_rate rate, const gain_request& r) {
    const bool sane = r.pitch.value() >= 20.0 && r.pitch.value() <= rate.value() / 12.0 &&
                      r.window.value() * rate.value() >= 2.0 && r.cycle_at.value() >= 0.0 &&
                      r.from.value() >= 0.0 && r.from < r.to;
    if (!sane) return refusal::bad_argument;
    if (!all_finite(volts) || !all_finite(silence)) return refusal::not_finite;
    const double end_s = static_cast<double>(volts.size()) / rate.value();
    const double cycle_end_s = r.cycle_at.value() + 1.0 / r.pitch.value();
    if (cycle_end_s > end_s || r.from.value() > end_s || silence.size() < 16)
        return refusal::too_short;
    return std::nullopt;
}

}  // namespace

outcome<std::vector<gain_point>> track_gain(std::span<const double> volts,
                                            std::span<const double> silence, sample_rate rate,
                                            const gain_request& request) {
    if (const auto why = unusable(volts, silence, rate, request)) return refuse(*why);
    const double fs = rate.value();
    const double offset = mean(silence);
    const double noise = deviation(silence);
    const repeated_cycle model{volts, request.cycle_at.value() * fs, fs / request.pitch.value(),
                               offset};
    const shape usual = model.mean_square();
    if (!(usual.value > 100.0 * noise * noise) || !(usual.value > 0.0))
        return refuse(refusal::silent);

    const auto window = static_cast<std::size_t>(std::round(request.window.value() * fs));
    const auto end = std::min(volts.size(), static_cast<std::size_t>(request.to.value() * fs));
    std::vector<gain_point> out;
    for (auto i = static_cast<std::size_t>(request.from.value() * fs); i + window <= end;
         i += window) {
        shape own;
        double cross = 0.0;
        for (std::size_t k = i; k < i + window; ++k) {
            const auto place = static_cast<double>(k);
            own += model.point(place);
            cross += model.at(place) * (volts[k] - offset);
        }
        const auto n = static_cast<double>(window);
        if (own.value < 0.01 * n * usual.value || own.slope > 4.0 * n * usual.slope) continue;
        const double centre = static_cast<double>(i) + 0.5 * static_cast<double>(window - 1);
        out.push_back({seconds{centre / fs}, cross / own.value, noise / std::sqrt(own.value)});
    }
    return out;
}

}  // namespace cvrig::analysis
