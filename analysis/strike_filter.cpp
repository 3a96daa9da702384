#include <algorithm>
#include <cmath>
#include <limits>

#include "analysis/strike_judges.hpp"

namespace cvrig::analysis {
namespace {

constexpr double least_contrast = 0.25;
/// Squared nepers of brightness by which a right answer may miss anyhow: at one pitch, and more per
/// octave.
constexpr double floor_nepers2 = 0.004;
constexpr double floor_per_octave_nepers2 = 0.006;
/// Distance along the curve, as a share of the whole, that still counts as gone on: a decay may
/// depend on pitch.
constexpr double reach_of_went_on = 0.10;
constexpr double reach_per_octave = 0.08;
/// Power of the distance that a likelihood is.
constexpr double full_power = 2.5;
/// Bands clear of the noise, over all frames: fewer than this and a filter that went on cannot be
/// seen; fewer than enough and a distance says less.
constexpr double least_values = 30.0;
constexpr double enough_values = 60.0;
constexpr double shape_nepers2 = 0.06 * 0.06;

/// The step's brightness against that of the references at other ages.
class age_matcher {
public:
    explicit age_matcher(const strike_tracks& t) : t_{t} { find_offset(); }

    /// Weighted mean square distance when the step (frames from `first` on) is at age `age_s` + u.
    [[nodiscard]] double distance(double age_s, std::size_t first) const {
        double sum = 0.0;
        double weights = 0.0;
        for (std::size_t j = first; j < t_.step.size(); j += 2) {
            const track_place p = place_of(t_.from, age_s + t_.u_s[j]);
            if (!p.inside) continue;
            for (std::size_t g = 1; g < strike_bands; ++g) {
                const double d = t_.step.bands[j][g] - offset_[g] - reference(p, t_.blend[j], g);
                const double w = weight(p, j, g);
                sum += w * d * d;
                weights += w;
            }
        }
        return weights > 0.0 ? sum / weights : std::numeric_limits<double>::infinity();
    }

    /// The same between two ages of the references themselves.
    [[nodiscard]] double between(double a_s, double b_s) const {
        double sum = 0.0;
        double weights = 0.0;
        for (std::size_t j = t_.first_after; j < t_.step.size(); j += 2) {
            const track_place a = place_of(t_.from, a_s + t_.u_s[j]);
            const track_place b = place_of(t_.from, b_s + t_.u_s[j]);
            if (!a.inside || !b.inside) continue;
            for (std::size_t g = 1; g < strike_bands; ++g) {
                const double d = reference(a, t_.blend[j], g) - reference(b, t_.blend[j], g);
                const double w = weight(b, j, g);
                sum += w * d * d;
                weights += w;
            }
        }
        return weights > 0.0 ? std::sqrt(sum / weights) : 0.0;
    }

    /// How many bands of how many frames stand clear of the noise if the level goes on.
    [[nodiscard]] double clear_values() const {
        double sum = 0.0;
        for (std::size_t j = t_.first_after; j < t_.step.size(); j += 2) {
            const track_place p = place_of(t_.from, t_.wait.value() + t_.u_s[j]);
            for (std::size_t g = 1; p.inside && g < strike_bands; ++g) sum += weight(p, j, g);
        }
        return sum * shape_nepers2;
    }

    /// Squared nepers by which the step missed its reference before anything had happened.
    [[nodiscard]] double unexplained() const noexcept { return unexplained_; }

private:
    [[nodiscard]] double reference(const track_place& p, double blend, std::size_t g) const {
        const auto value = [&](const strike_track& r) {
            return (1 - p.f) * r.bands[p.i][g] + p.f * r.bands[p.i + 1][g];
        };
        return (1 - blend) * value(t_.from) + blend * value(t_.to);
    }

    [[nodiscard]] double weight(const track_place& p, std::size_t j, std::size_t g) const {
        return 1.0 / (shape_nepers2 + t_.step.variance[j][g] + t_.from.variance[p.i][g] +
                      t_.to.variance[p.i][g]);
    }

    /// As with the level, the frames before the step bring the step to its reference.
    void find_offset() {
        double n = 0.0;
        for (std::size_t j = 0; j < t_.step.size(); ++j) {
            const double age = t_.wait.value() + t_.u_s[j];
            if (t_.u_s[j] > -t_.half_s[j] - 0.006 || age < t_.half_s[j] + 0.012) continue;
            const track_place p = place_of(t_.from, age);
            n += 1.0;
            for (std::size_t g = 1; g < strike_bands; ++g) {
                const double d = t_.step.bands[j][g] - reference(p, 0.0, g);
                offset_[g] += d / (1.0 + 100.0 * t_.step.variance[j][g]);
            }
        }
        for (double& o : offset_) {
            o = n > 0.0 ? std::clamp(o / n, -0.2, 0.2) : 0.0;
            unexplained_ += o * o / static_cast<double>(strike_bands);
        }
    }

    const strike_tracks& t_;
    band_values offset_{};
    double unexplained_{0.0};
};

struct best_distances {
    double went_on, struck, partial;
    double depth;
};

/// Struck, at once or up to 33 ms late.
double struck_distance(const strike_tracks& t, const age_matcher& match) {
    double best = std::numeric_limits<double>::infinity();
    for (int late = -1; late <= 11; ++late) {
        const double delay_s = 0.003 * late;
        const auto skip = static_cast<std::size_t>(std::max(0, late));
        best = std::min(best, match.distance(-delay_s, t.first_after + 2 + skip));
    }
    return best;
}

best_distances search_ages(const strike_tracks& t, const age_matcher& match, double contrast) {
    constexpr double inf = std::numeric_limits<double>::infinity();
    best_distances out{inf, struck_distance(t, match), inf, 0.0};
    const std::size_t first = t.first_after + 2;
    const double reach = reach_of_went_on + reach_per_octave * t.octaves;
    double best = inf;
    const double wait_s = t.wait.value();
    const double stride_s = std::max(strike_hop.value(), wait_s / 100.0);
    for (double back = 0.0; back <= wait_s; back += stride_s) {
        const double age = wait_s - back;
        const double r = match.distance(age, first);
        const double from_end = match.between(age, wait_s) / contrast;
        const double from_start = match.between(age, 0.0) / contrast;
        if (from_end <= reach) out.went_on = std::min(out.went_on, r);
        if (from_end >= reach + 0.02 && from_start >= 0.12) out.partial = std::min(out.partial, r);
        if (r < best) {
            best = r;
            out.depth = from_end / std::max(from_end + from_start, 1e-9);
        }
    }
    return out;
}

/// The scale of the errors is not known; integrated out, it leaves a power of the distance.
double likelihood(double r, double floor, double power) noexcept {
    return std::pow(r + floor, -power);
}

}  // namespace

filter_judgement judge_filter(const strike_tracks& t) {
    const age_matcher match{t};
    const double contrast = match.between(0.0, t.wait.value());
    filter_judgement out{even_odds, std::nullopt, 0.0, contrast};
    const double clear = match.clear_values();
    if (clear < least_values) {
        out.refused = refusal::silent;
        return out;
    }
    if (contrast < least_contrast) {
        out.refused = refusal::no_contrast;
        return out;
    }
    const best_distances r = search_ages(t, match, contrast);
    out.depth = r.depth;
    const double floor = floor_nepers2 + floor_per_octave_nepers2 * t.octaves + match.unexplained();
    const double power = full_power * std::min(1.0, clear / enough_values);
    const double partial =
        std::isfinite(r.partial) ? 0.3 * likelihood(r.partial, floor, power) : 0.0;
    out.verdict =
        to_odds(likelihood(r.went_on, floor, power), likelihood(r.struck, floor, power), partial);
    return out;
}

}  // namespace cvrig::analysis
