#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include "analysis/envelope.hpp"

namespace cvrig::analysis {
namespace {

constexpr double db_per_neper = 20.0 / std::numbers::ln10;

/// One track of the frames in a range: seconds after `from`, and decibels.
struct curve {
    std::vector<double> t_s;
    std::vector<double> y_db;
    bool silent{false};
};

double track_db(const envelope_frame& frame, envelope_track which) noexcept {
    if (which == envelope_track::brightness) return frame.brightness.value();
    const volts v = which == envelope_track::level ? frame.level : frame.fundamental;
    return 20.0 * std::log10(v.value());
}

curve cut(std::span<const envelope_frame> frames, seconds from, seconds to, envelope_track which) {
    curve out;
    for (const auto& frame : frames) {
        if (frame.at < from || frame.at > to) continue;
        out.silent = out.silent || !(frame.level.value() > 0.0);
        out.t_s.push_back((frame.at - from).value());
        out.y_db.push_back(track_db(frame, which));
    }
    return out;
}

/// Least squares y = offset + slope x, with what is left over.
struct line_fit {
    double offset, slope, spread_x, residual_rms, widening;
};

/// Frames that share a window repeat each other's noise: so many fewer of them count.
double widening_of(std::span<const double> residuals) noexcept {
    double own = 0.0;
    double next = 0.0;
    for (std::size_t i = 0; i < residuals.size(); ++i) {
        own += residuals[i] * residuals[i];
        if (i > 0) next += residuals[i] * residuals[i - 1];
    }
    const double r = own > 0.0 ? std::clamp(next / own, 0.0, 0.98) : 0.0;
    return std::sqrt((1.0 + r) / (1.0 - r));
}

line_fit fit_line(std::span<const double> x, std::span<const double> y, std::size_t parameters) {
    const double n = static_cast<double>(x.size());
    double mean_x = 0.0;
    double mean_y = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        mean_x += x[i] / n;
        mean_y += y[i] / n;
    }
    double xx = 0.0;
    double xy = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        xx += (x[i] - mean_x) * (x[i] - mean_x);
        xy += (x[i] - mean_x) * (y[i] - mean_y);
    }
    const double slope = xx > 0.0 ? xy / xx : 0.0;
    const double offset = mean_y - slope * mean_x;
    std::vector<double> left(x.size());
    double sum = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        left[i] = y[i] - offset - slope * x[i];
        sum += left[i] * left[i];
    }
    return {offset, slope, std::sqrt(xx), std::sqrt(sum / (n - static_cast<double>(parameters))),
            widening_of(left)};
}

std::optional<refusal> unusable(const curve& c, std::size_t least) {
    if (c.t_s.size() < least) return refusal::too_short;
    if (c.silent) return refusal::silent;
    return std::nullopt;
}

}  // namespace

outcome<decay_reading> measure_decay(std::span<const envelope_frame> frames, seconds from,
                                     seconds to, envelope_track which) {
    const curve c = cut(frames, from, to, which);
    if (const auto why = unusable(c, 6)) return refuse(*why);
    const line_fit fit = fit_line(c.t_s, c.y_db, 2);
    const double u_slope = fit.residual_rms * fit.widening / fit.spread_x;
    if (!(fit.slope < -2.0 * u_slope)) return refuse(refusal::no_fit);
    const double tau = -db_per_neper / fit.slope;
    return decay_reading{seconds{tau}, seconds{tau * u_slope / -fit.slope},
                         volts{std::pow(10.0, fit.offset / 20.0)}, decibels{fit.residual_rms}};
}

}  // namespace cvrig::analysis
