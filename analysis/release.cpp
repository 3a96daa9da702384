#include "analysis/release.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <vector>

#include "analysis/fit.hpp"
#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

constexpr double db_per_neper = 20.0 / std::numbers::ln10;
constexpr double fallen = 0.95;  ///< a gain below this is no ripple of the note itself

double db(double gain) noexcept {
    return 20.0 * std::log10(std::max(gain, 1e-9));
}

constexpr seconds strike_early{0.00075};  ///< a module's clock of up to 0.7 ms
constexpr seconds strike_reach{0.003};    ///< a drop is over by then

/// First point of the fall: it and the next are below `fallen`.
std::optional<std::size_t> find_fall(std::span<const gain_point> course, seconds gate_falls) {
    for (std::size_t i = 0; i + 1 < course.size(); ++i) {
        if (course[i].at < gate_falls) continue;
        if (course[i].gain < fallen && course[i + 1].gain < fallen) return i;
    }
    return std::nullopt;
}

/// Twice the shortest distance of two points is two windows and more.
seconds two_windows(std::span<const gain_point> course) {
    seconds least{INFINITY};
    for (std::size_t i = 1; i < course.size(); ++i)
        least = std::min(least, course[i].at - course[i - 1].at);
    return 2.1 * least;
}

struct cut_off {
    std::size_t last;  ///< last point of the smooth fall
    tail_end end;
};

cut_off find_end(std::span<const gain_point> course, std::size_t begin) {
    const seconds near = two_windows(course);
    std::size_t last = begin;
    for (std::size_t i = begin; i < course.size(); ++i) {
        if (course[i].gain < 8.0 * course[i].u_gain) return {last, tail_end::noise};
        last = i;
        // Windows may be missing: the next point counts, however far it is.
        for (std::size_t k = i + 1; k < course.size(); ++k) {
            if (course[k].gain < 0.1 * course[i].gain) return {k - 1, tail_end::cut};
            if (course[k].at - course[i].at > near) break;
        }
    }
    return {last, tail_end::record};
}

struct exponential {
    line_fit line;  ///< nepers against seconds
    double residual_nepers;
    double u_slope;
    [[nodiscard]] double at(seconds t) const noexcept { return std::exp(line.at(t.value())); }
    /// Where it passes the level of the held note.
    [[nodiscard]] seconds begins() const noexcept { return seconds{-line.intercept / line.slope}; }
};

/// Weight of products of residuals so far apart.
double bartlett(std::size_t apart, std::size_t lags) {
    return apart > lags ? 0.0
                        : 1.0 - static_cast<double>(apart) / (static_cast<double>(lags) + 1.0);
}

/// How residuals so far apart go together: 1 for none.
std::vector<double> correlations(std::span<const double> residuals, std::size_t lags) {
    const double power = dot(residuals, residuals);
    std::vector<double> out{1.0};
    for (std::size_t lag = 1; lag <= lags; ++lag)
        out.push_back(bartlett(lag, lags) *
                      dot(residuals.subspan(lag), residuals.first(residuals.size() - lag)) / power);
    return out;
}

/// A line's slope as a sum: what each value adds to it.
Eigen::VectorXd levers_of(std::span<const double> t) {
    Eigen::VectorXd out(static_cast<Eigen::Index>(t.size()));
    const double centre = mean(t);
    for (std::size_t i = 0; i < t.size(); ++i) out[static_cast<Eigen::Index>(i)] = t[i] - centre;
    return out / out.squaredNorm();
}

/// Variance of a line's slope, from residuals that share what the cycle has wrong, have it the other
/// way half a cycle later, and grow as the sound falls into the noise: the sum of their products up to
/// `lags` apart, over what residuals correlated as these would give it, since a fitted line takes some
/// of it away.
/// Source: W. K. Newey, K. D. West, "A simple, positive semi-definite, heteroskedasticity and
/// autocorrelation consistent covariance matrix", Econometrica 55(3), 1987; `lags` 0: H. White,
/// Econometrica 48(4), 1980.
double slope_variance(std::span<const double> t, std::span<const double> residuals,
                      std::size_t lags) {
    const auto n = static_cast<Eigen::Index>(t.size());
    const Eigen::VectorXd lever = levers_of(t);
    const auto together = correlations(residuals, lags);
    Eigen::MatrixXd weights(n, n), alike(n, n);
    for (Eigen::Index i = 0; i < n; ++i)
        for (Eigen::Index j = 0; j < n; ++j) {
            const auto apart = static_cast<std::size_t>(std::abs(i - j));
            weights(i, j) = bartlett(apart, lags) * lever[i] * lever[j];
            alike(i, j) = apart <= lags ? together[apart] : 0.0;
        }
    const Eigen::Map<const Eigen::VectorXd> left{residuals.data(), n};
    Eigen::MatrixXd kept = Eigen::MatrixXd::Identity(n, n);
    kept -= lever * lever.transpose() / lever.squaredNorm();
    kept.array() -= 1.0 / static_cast<double>(n);
    const double found = left.dot(weights * left);
    const double expected = weights.cwiseProduct(kept * alike * kept).sum();
    return found * lever.dot(alike * lever) / expected;
}

/// Few points may seem to cancel more than they do: half of what they give alone is the least.
double u_slope_of(std::span<const double> t, std::span<const double> residuals) {
    const double alone = slope_variance(t, residuals, 0);
    const double found = slope_variance(t, residuals, t.size() / 8);
    return std::sqrt(std::isfinite(found) ? std::max(found, 0.25 * alone) : alone);
}

outcome<exponential> fit_exponential(std::span<const gain_point> points) {
    std::vector<double> t;
    std::vector<double> y;
    for (const auto& p : points) {
        t.push_back(p.at.value());
        y.push_back(std::log(p.gain));
    }
    const auto line = fit_line(t, y);
    if (!line) return refuse(line.error());
    return exponential{*line, line->residual_sd, u_slope_of(t, departures(*line, t, y))};
}

/// Points whose gain lies between the two.
std::vector<gain_point> between(std::span<const gain_point> course, double high, double low) {
    std::vector<gain_point> out;
    for (const auto& p : course) {
        if (p.gain <= std::max(low, 20.0 * p.u_gain)) break;
        if (p.gain <= high) out.push_back(p);
    }
    return out;
}

outcome<exponential> fit_between(std::span<const gain_point> course, seconds from, seconds to) {
    std::vector<gain_point> used;
    for (const auto& p : course)
        if (p.at > from && p.at < to && p.gain > 20.0 * p.u_gain) used.push_back(p);
    if (used.size() < 4) return refuse(refusal::too_short);
    const auto fit = fit_exponential(used);
    if (fit && !(fit->line.slope < 0.0)) return refuse(refusal::no_fit);
    return fit;
}

std::optional<gain_point> lowest_between(std::span<const gain_point> course, seconds from,
                                         seconds to) {
    std::optional<gain_point> lowest;
    for (const auto& p : course)
        if (p.at > from && p.at < to && (!lowest || p.gain < lowest->gain)) lowest = p;
    return lowest;
}

/// What the fall, as fast as from `first` to `last`, loses from there to `next`; 2 dB if it is cut
/// off before its speed is known.
double fall_between(std::span<const gain_point> course, std::size_t first, std::size_t last,
                    std::size_t next) {
    if (last < first + 2) return 2.0;
    const double fallen_db = db(course[first].gain) - db(course[last].gain);
    const double share = (course[next].at - course[last].at) / (course[last].at - course[first].at);
    return std::max(0.0, fallen_db * share);
}

/// The strike between two neighbouring points: before it the course, after it a straight rise.
struct strike_point {
    seconds at, u_at;
    double level;            ///< gain just after it
    double rise_per_second;  ///< of the gain
};

/// The window before the lowest point tells by its level how much of it lies behind the strike; if
/// windows are missing there, the strike may be anywhere between.
strike_point find_strike(std::span<const gain_point> course, const gain_point& lowest,
                         const exponential& fall, seconds window) {
    const auto next = std::ranges::upper_bound(course, lowest.at, {}, &gain_point::at);
    const auto own = std::ranges::lower_bound(course, lowest.at, {}, &gain_point::at);
    if (next == course.end() || own == course.begin())
        return {lowest.at, 0.5 * window, lowest.gain, 0.0};
    const auto& before = *std::prev(own);
    const double slope = std::max(0.0, next->gain - lowest.gain) / (next->at - lowest.at).value();
    const auto risen = [&](seconds t) {
        const double ago_s = (lowest.at - t).value();
        return std::max(lowest.gain - slope * ago_s, 0.01 * fall.at(t));
    };
    const seconds apart = lowest.at - before.at;
    if (apart > 1.5 * window) {
        const seconds middle = before.at + 0.5 * apart;
        return {middle, apart / std::sqrt(12.0), risen(middle), slope};
    }
    const double high = fall.at(before.at);
    const double range = std::max(high - risen(before.at), 1e-9);
    const double share = std::clamp((high - before.gain) / range, 0.0, 1.0);
    const seconds at = before.at + (0.5 - share) * window;
    return {at, window / 6.0, risen(at), slope};
}

}  // namespace

outcome<release_reading> measure_release(std::span<const gain_point> course, seconds gate_falls) {
    const auto begin = find_fall(course, gate_falls);
    if (!begin) return refuse(refusal::no_fit);
    const auto end = find_end(course, *begin);
    // A cut may fall into the last point's window.
    const std::size_t whole = end.end == tail_end::cut ? end.last : end.last + 1;
    const auto used = between(course.subspan(*begin, whole - std::min(whole, *begin)), 0.9, 0.01);
    if (used.size() < 8) return refuse(refusal::too_short);
    const auto fit = fit_exponential(used);
    if (!fit) return refuse(fit.error());
    const double slope = fit->line.slope;
    const double u_slope = fit->u_slope;
    const decibels residual{db_per_neper * fit->residual_nepers};
    if (!(slope < -2.0 * u_slope) || residual.value() > 1.5) return refuse(refusal::no_fit);
    const seconds tau{-1.0 / slope};
    return release_reading{.begins = fit->begins(),
                           .time_constant = tau,
                           .u_time_constant = tau * (u_slope / -slope),
                           .fit_residual = residual};
}

outcome<tail_reading> measure_tail(std::span<const gain_point> course, seconds gate_falls) {
    if (course.empty() || course.back().at < gate_falls) return refuse(refusal::too_short);
    const auto begin = find_fall(course, gate_falls);
    if (!begin) return refuse(refusal::no_fit);
    // The note may be cut off from its full level: the point before the fall is the first of it.
    const std::size_t first = *begin > 0 ? *begin - 1 : 0;
    const auto end = find_end(course, first);
    if (end.end != tail_end::cut)
        return tail_reading{decibels{db(course[end.last].gain)}, decibels{0.1}, end.end};
    // The cut may fall into the last point's window, so that point itself says too little.
    const std::size_t whole = end.last > first ? end.last - 1 : first;
    const double level_db = db(course[whole].gain) - fall_between(course, first, whole, end.last);
    const double unknown_db = fall_between(course, first, whole, end.last + 1);
    return tail_reading{decibels{level_db}, decibels{std::hypot(0.1, unknown_db / std::sqrt(12.0))},
                        end.end};
}

outcome<restrike_reading> measure_restrike(std::span<const gain_point> course, seconds gate_falls,
                                           seconds gate_rises) {
    const auto begin = find_fall(course, gate_falls);
    if (!begin) return refuse(refusal::no_fit);
    const auto falling = course.subspan(*begin);
    const auto early = fit_between(falling, gate_falls, gate_rises);
    if (!early) return refuse(early.error());
    // The strike comes as late after its gate as the fall did, but for a step of the module's
    // clock.
    const seconds late = early->begins() - gate_falls;
    const seconds not_before = gate_rises + late - strike_early;
    const auto fall = fit_between(falling, gate_falls, not_before);
    if (!fall) return refuse(fall.error());
    const auto lowest = lowest_between(falling, not_before, gate_rises + late + strike_reach);
    if (!lowest) return refuse(refusal::too_short);
    const double residual_db = db_per_neper * fall->residual_nepers;
    if (residual_db > 1.0) return refuse(refusal::no_fit);
    const double u_course =
        db_per_neper * fall->line.predict(lowest->at.value()).standard_uncertainty;
    const auto strike = find_strike(falling, *lowest, *fall, two_windows(course) / 2.1);
    const double drop = db(fall->at(strike.at) / strike.level);
    // A point that is no lower than the course shows no drop, so none is extrapolated.
    const double seen = std::max(0.0, db(fall->at(lowest->at) / lowest->gain));
    const double u_rise =
        db_per_neper * strike.rise_per_second * strike.u_at.value() / strike.level;
    return restrike_reading{
        .drop = decibels{std::clamp(drop, 0.0, 2.0 * seen)},
        .u_drop = decibels{std::hypot(std::hypot(u_course, residual_db), std::min(u_rise, 6.0))},
        .at = lowest->at};
}

}  // namespace cvrig::analysis
