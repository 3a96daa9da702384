#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "analysis/strike_judges.hpp"

namespace cvrig::analysis {
namespace {

/// What two strikes of one voice differ by at the same age, as a share of the level: with a pull
/// that a harmonic shows, and without one.
constexpr double repeatability = 0.004;
constexpr double unseen_pull = 0.02;
/// Share of its level by which a strike on top of another may be louder.
constexpr double louder = 0.04;
/// Shares, as squares, of the filter's pull and of the doubt about it that the extrapolation
/// leaves. With ln|H| = a k^2 + b k^4 the doubt by harmonics 2 and 3 is 5 b, the error 4 b.
constexpr double pull_left = 0.09;
constexpr double doubt_left = 1.0;
/// Depths beyond which a reading counts for nothing but even odds.
constexpr double widest_u_depth = 0.30;

/// Student's t with five degrees of freedom, not normalised by its width.
double t5(double x) noexcept {
    const double q = 1.0 + x * x / 5.0;
    return 1.0 / (q * q * q);
}

double at(const strike_track& track, const std::vector<double>& values, double age_s) noexcept {
    const track_place p = place_of(track, age_s);
    if (!p.inside) return age_s < track.first_age.value() ? -30.0 : values.back();
    return (1 - p.f) * values[p.i] + p.f * values[p.i + 1];
}

/// Share of a Hann window of half-width `half` that lies after a strike `u` before its centre.
double share_after(double u, double half) noexcept {
    const double x = std::clamp(u / half, -1.0, 1.0);
    return 0.5 + 0.5 * x + std::sin(std::numbers::pi * x) / (2.0 * std::numbers::pi);
}

/// Least squares of y = offset + slope x + share p, the offset taken out by centring.
class line_and_pull {
public:
    void add(double x, double p, double y) { rows_.push_back({x, p, y}); }

    [[nodiscard]] double slope() const {
        row mean{0.0, 0.0, 0.0};
        const double n = static_cast<double>(rows_.size());
        for (const row& r : rows_) {
            mean = {mean.x + r.x / n, mean.p + r.p / n, mean.y + r.y / n};
        }
        double xx = 0.0, xp = 0.0, pp = 0.0, xy = 0.0, py = 0.0;
        for (const row& r : rows_) {
            const double x = r.x - mean.x;
            const double p = r.p - mean.p;
            const double y = r.y - mean.y;
            xx += x * x;
            xp += x * p;
            pp += p * p;
            xy += x * y;
            py += p * y;
        }
        // A pull that is hardly there must not be scaled up to explain a decay.
        pp += 1e-4 * n;
        const double determinant = xx * pp - xp * xp;
        return determinant > 0.0 ? (xy * pp - py * xp) / determinant : 0.0;
    }

private:
    struct row {
        double x, p, y;
    };
    std::vector<row> rows_;
};

/// Courses of the level that the references promise.
class amplitude_model {
public:
    explicit amplitude_model(const strike_tracks& t) : t_{t}, lean_{lean_on_harmonics(t)} {
        find_gain();
    }

    /// What the level lost more, in nepers, while it sounded at the old pitch than it would have at
    /// the new.
    void shift_by(double decay_difference) noexcept { decay_difference_ = decay_difference; }

    [[nodiscard]] double observed(std::size_t j) const noexcept {
        return std::exp(lean_.step.level[j]);
    }
    [[nodiscard]] double went_on(std::size_t j) const noexcept {
        const double shift = decay_difference_ * t_.blend[j];
        return std::exp(reference(t_.wait.value() + t_.u_s[j], t_.blend[j]) + gain_ + shift);
    }
    [[nodiscard]] double struck(std::size_t j, double delay_s) const noexcept {
        return std::exp(reference(t_.u_s[j] - delay_s, t_.blend[j]) + gain_);
    }
    /// Mean squared difference of the filter's pull, or of the doubt about it, on the step from
    /// that of a reference at an age.
    [[nodiscard]] double missed(std::vector<double> lean_track::*what, double age_at_step_s) const {
        double sum = 0.0;
        for (std::size_t j = t_.first_after; j < t_.step.size(); ++j) {
            const double age = age_at_step_s + t_.u_s[j];
            const double w = t_.blend[j];
            const double expected =
                (1 - w) * at(t_.from, lean_.from.*what, age) + w * at(t_.to, lean_.to.*what, age);
            const double d = (lean_.step.*what)[j] - expected;
            sum += d * d;
        }
        return sum / static_cast<double>(t_.step.size() - t_.first_after);
    }
    [[nodiscard]] double model_error(double age_at_step_s) const noexcept {
        const double base = lean_.by == lean::none ? unseen_pull : repeatability;
        const double pull = missed(&lean_track::pull, age_at_step_s);
        const double doubt = missed(&lean_track::doubt, age_at_step_s);
        return std::sqrt(base * base + pull_left * pull + doubt_left * doubt +
                         0.06 * decay_difference_ * decay_difference_ + 0.06 * gain_ * gain_);
    }

    /// A level that falls faster at one pitch leaves the step with what it lost at the old one. The
    /// difference of both references' logs is a line in age, plus some of the difference of the
    /// filter's pulls.
    [[nodiscard]] double find_decay_difference() const {
        const double early_s = t_.half_s.front() + 0.012;
        const double late_s = t_.from.last_age().value() - 2.0 * strike_hop.value();
        line_and_pull fit;
        for (double age = early_s; age < late_s; age += 2.0 * strike_hop.value()) {
            const double pull = at(t_.from, lean_.from.pull, age) - at(t_.to, lean_.to.pull, age);
            fit.add(age, pull, at(t_.from, lean_.from.level, age) - at(t_.to, lean_.to.level, age));
        }
        return fit.slope() * t_.wait.value();
    }

private:
    [[nodiscard]] double reference(double age_s, double blend) const noexcept {
        return (1 - blend) * at(t_.from, lean_.from.level, age_s) +
               blend * at(t_.to, lean_.to.level, age_s);
    }

    /// Two strikes need not be equally loud: the step is brought to its reference by the frames
    /// before it.
    void find_gain() {
        double sum = 0.0;
        double n = 0.0;
        for (std::size_t j = 0; j < t_.step.size(); ++j) {
            const double age = t_.wait.value() + t_.u_s[j];
            if (t_.u_s[j] > -t_.half_s[j] - 0.006 || age < t_.half_s[j] + 0.012) continue;
            sum += lean_.step.level[j] - at(t_.from, lean_.from.level, age);
            n += 1.0;
        }
        gain_ = n > 0.0 ? std::clamp(sum / n, -0.1, 0.1) : 0.0;
    }

    const strike_tracks& t_;
    lean_levels lean_;
    double gain_{0.0};
    double decay_difference_{0.0};
};

struct depth_fit {
    double depth{0.0}, u{1.0}, cost{std::numeric_limits<double>::infinity()};
    double delay_s{0.0}, contrast{0.0};
};

double weight_of(const strike_tracks& t, std::size_t j, double level, double most) noexcept {
    const bool straddles = std::abs(t.u_s[j]) < t.half_s[j] + 0.006;
    const double own = (straddles ? 0.06 : 0.006) * level;
    return 1.0 / (3.0 * t.noise_v2 + own * own + 4e-4 * most * most);
}

depth_fit fit_depth(const strike_tracks& t, const amplitude_model& model, double delay_s) {
    std::vector<double> move;
    std::vector<double> seen;
    std::vector<double> level;
    for (std::size_t j = 0; j < t.step.size(); ++j) {
        if (t.u_s[j] < -t.half_s[j]) continue;
        const double on = model.went_on(j);
        move.push_back(model.struck(j, delay_s) -
                       on * share_after(t.u_s[j] - delay_s, t.half_s[j]));
        seen.push_back(model.observed(j) - on);
        level.push_back(model.observed(j));
    }
    const std::size_t skipped = t.step.size() - move.size();
    double most = 0.0;
    for (const double s : move) most = std::max(most, std::abs(s));
    double ss = 0.0, ys = 0.0, yy = 0.0, move2 = 0.0, level2 = 0.0;
    for (std::size_t i = 0; i < move.size(); ++i) {
        const double w = weight_of(t, i + skipped, level[i], most);
        ss += w * move[i] * move[i];
        ys += w * move[i] * seen[i];
        yy += w * seen[i] * seen[i];
        if (i + skipped < t.first_after) continue;
        move2 += move[i] * move[i];
        level2 += level[i] * level[i];
    }
    depth_fit fit;
    fit.depth = ys / ss;
    fit.cost = yy - ys * ys / ss;
    const double n = static_cast<double>(move.size());
    const double overlap = 2.0 * t.half_s.back() / strike_hop.value();
    fit.u = std::sqrt(fit.cost / (n - 1.0) * std::max(1.0, overlap) / ss);
    fit.delay_s = delay_s;
    fit.contrast = std::sqrt(move2 / level2);
    fit.cost += 100.0 * std::abs(delay_s);
    return fit;
}

depth_fit best_fit(const strike_tracks& t, const amplitude_model& model) {
    depth_fit best;
    for (int step = -2; step <= 11; ++step) {
        const depth_fit fit = fit_depth(t, model, 0.003 * step);
        if (fit.cost < best.cost) best = fit;
    }
    return best;
}

/// Likelihoods of the three verdicts, on one scale for all readings of one step.
struct likelihoods {
    double went_on, struck, partial;
};

likelihoods weigh(double depth, double u_on, double u_struck, double contrast) {
    double struck = t5((depth - 1.0) / u_struck) / u_struck;
    if (depth > 1.0) {
        // Accents build up, so a second strike may also be louder than the reference, never softer.
        const double u_louder = std::hypot(2.5 * u_struck, louder / contrast);
        struck = 0.5 * struck + 0.5 * t5((depth - 1.0) / u_louder) / u_louder;
    }
    double partial = 0.0;
    constexpr int steps = 36;
    for (int i = 0; i < steps; ++i) {
        const double d = 0.12 + 0.70 * (i + 0.5) / steps;
        const double u = std::hypot((1 - d) * u_on, d * u_struck);
        partial += t5((depth - d) / u) / (u * steps);
    }
    return {t5(depth / u_on) / u_on, struck, partial};
}

struct depth_reading {
    depth_fit fit;
    double u_on, u_struck;

    [[nodiscard]] double u() const noexcept { return std::min(u_on, u_struck); }
};

depth_reading read_depth(const strike_tracks& t, amplitude_model& model, double decay_difference) {
    model.shift_by(decay_difference);
    const depth_fit fit = best_fit(t, model);
    const double width = std::hypot(fit.u, 0.02);
    return {fit, std::hypot(width, model.model_error(t.wait.value()) / fit.contrast),
            std::hypot(width, model.model_error(-fit.delay_s) / fit.contrast)};
}

}  // namespace

amplitude_judgement judge_amplitude(const strike_tracks& t) {
    amplitude_model model{t};
    // Most voices decay alike at all pitches, and a filter's pull can feign that one does not: both
    // readings are kept, the plain one as twice as likely beforehand.
    const depth_reading alike = read_depth(t, model, 0.0);
    const depth_reading unlike = read_depth(t, model, model.find_decay_difference());
    const depth_reading& best = alike.fit.cost <= unlike.fit.cost ? alike : unlike;
    amplitude_judgement out{
        even_odds,         std::nullopt,
        best.fit.depth,    std::max(best.u_on, best.u_struck),
        best.fit.contrast, seconds{best.fit.depth > 0.1 ? best.fit.delay_s : 0.0}};
    if (alike.u() > widest_u_depth) {
        out.refused = refusal::no_contrast;
        return out;
    }
    const likelihoods a = weigh(alike.fit.depth, alike.u_on, alike.u_struck, alike.fit.contrast);
    const likelihoods b =
        weigh(unlike.fit.depth, unlike.u_on, unlike.u_struck, unlike.fit.contrast);
    out.verdict =
        to_odds(2 * a.went_on + b.went_on, 2 * a.struck + b.struck, 2 * a.partial + b.partial);
    return out;
}

}  // namespace cvrig::analysis
