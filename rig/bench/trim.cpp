#include "rig/bench/trim.hpp"

#include <algorithm>
#include <cmath>

#include "analysis/fit.hpp"

namespace cvrig {

namespace {

struct systematic {
    double scale_part{0.0};  // of the slope
    volts offset{0.0};
};

// Two constants fitted to points that scatter at least by `scatter`, plus what they all share.
analysis::outcome<trim_fit> fitted(std::span<const trim_point> points, volts scatter,
                                   const systematic& shared) {
    std::vector<double> x, y;
    for (const auto& p : points) {
        x.push_back(p.sample);
        y.push_back(p.known.value());
    }
    const auto line = analysis::fit_line(x, y);
    if (!line) return analysis::refuse(line.error());
    trim_fit out;
    // The covariance matrix for a scatter of 1 V, which does not need the scatter that a few points
    // happen to show.
    double mean = 0.0;
    double squares = 0.0;
    const auto count = static_cast<double>(x.size());
    for (const double v : x) mean += v / count;
    for (const double v : x) squares += (v - mean) * (v - mean);
    const double variance =
        std::max(line->residual_sd * line->residual_sd, scatter.value() * scatter.value());
    const double slope_variance = variance / squares;
    const double scale_u = shared.scale_part * line->slope;
    out.trim.volts_per_full_scale = line->slope;
    out.trim.offset = volts{line->intercept};
    out.trim.u_volts_per_full_scale = std::hypot(std::sqrt(slope_variance), scale_u);
    out.trim.u_offset = volts{std::hypot(std::sqrt(variance / count + mean * mean * slope_variance),
                                         shared.offset.value())};
    out.trim.covariance_volts_squared = -mean * slope_variance;
    for (const auto& p : points) {
        const volts off{std::abs(p.known.value() - line->at(p.sample))};
        if (off >= out.largest_departure) {
            out.largest_departure = off;
            out.at = p.known;
        }
    }
    return out;
}

systematic shared_of(const channel_trim& t) {
    return {t.u_volts_per_full_scale / std::abs(t.volts_per_full_scale), t.u_offset};
}

// Of a known scatter, 4 standard deviations; a few points never lie further out by chance.
constexpr double farthest_by_chance = 4.0;

}  // namespace

analysis::outcome<trim_fit> fit_output_trim(std::span<const trim_point> points,
                                            const meter_accuracy& meter) {
    auto out = fitted(points, meter.u_rounding(), {meter.u_scale_part(), meter.u_offset()});
    if (out) {
        // Scale and zero errors lie on the line; only what the data sheet leaves beside may not.
        const volts permitted = meter.digits * meter.resolution + meter.resolution;
        out->explained = out->largest_departure <= permitted;
    }
    return out;
}

analysis::outcome<trim_fit> fit_input_trim(std::span<const trim_point> points,
                                           const channel_trim& source, volts noise) {
    auto out = fitted(points, noise, shared_of(source));
    if (out)
        out->explained =
            out->largest_departure <= std::max(farthest_by_chance * noise, volts{0.0005});
    return out;
}

analysis::outcome<trim_fit> fit_heard_output_trim(std::span<const trim_point> points,
                                                  const channel_trim& listener, volts noise) {
    return fit_input_trim(points, listener, noise);
}

cents loading_error(double source_ohms, double load_ohms) noexcept {
    return cents{1200.0 * source_ohms / (source_ohms + load_ohms)};
}

std::vector<volts> trim_levels(volts lowest, volts highest) {
    std::vector<volts> out;
    for (const double v : {-5.0, -3.0, -1.0, 0.0, 1.0, 3.0, 5.0})
        if (volts{v} >= lowest && volts{v} <= highest) out.emplace_back(v);
    if (out.size() < 3) out = {lowest, (lowest + highest) / 2, highest};
    return out;
}

}  // namespace cvrig
