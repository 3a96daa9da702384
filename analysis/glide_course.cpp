#include "analysis/glide_course.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <optional>

namespace cvrig::analysis::gliding {

using Eigen::Index;
using std::numbers::pi;

namespace {

using complex = std::complex<double>;

/// Phase and pitch of a law along a record.
struct along {
    std::vector<double> cycles, pitch_hz;
};

along follow(const band_record& record, const glide_law& law) {
    const phase_law phase{law};
    along out;
    for (Index i = 0; i < record.volts.size(); ++i) {
        const auto point = phase(record.time_s(i));
        out.cycles.push_back(point.cycles);
        out.pitch_hz.push_back(point.pitch_hz);
    }
    return out;
}

/// First harmonic over two cycles around sample `centre`, in the frame that turns with the law. By
/// phase the cycles are equally long however the pitch moves, so that the Hann window of two of
/// them keeps the other harmonics out.
complex first_harmonic(const band_record& record, const along& law, std::size_t centre) {
    complex sum{};
    const auto add = [&](std::size_t i) {
        const double apart = law.cycles[i] - law.cycles[centre];
        if (std::abs(apart) >= 1) return false;
        const double weight = (0.5 + 0.5 * std::cos(pi * apart)) * law.pitch_hz[i];
        const double angle = 2 * pi * (law.cycles[i] - std::floor(law.cycles[i]));
        sum += weight * record.volts[static_cast<Index>(i)] *
               complex{std::cos(angle), -std::sin(angle)};
        return true;
    };
    for (std::size_t i = centre; i < law.cycles.size() && add(i); ++i) continue;
    for (std::size_t i = centre; i > 0 && add(i - 1); --i) continue;
    return sum;
}

struct phase_shift {
    double at_s, cycles, pitch_hz;
};

/// How far the sound's phase runs ahead of the law's, once a piece of whole cycles, of which about
/// 60 fill the record.
std::vector<phase_shift> shifts_of(const band_record& record, const glide_law& law) {
    const auto path = follow(record, law);
    const double span_cycles = path.cycles.back() - path.cycles.front();
    const double piece = std::max(1.0, std::round(span_cycles / 60));
    std::vector<phase_shift> out;
    double next = path.cycles.front() + 1;
    double turned = 0.0;
    for (std::size_t i = 0; i < path.cycles.size() && path.cycles[i] < path.cycles.back() - 1;
         ++i) {
        if (path.cycles[i] < next) continue;
        const double shift = std::arg(first_harmonic(record, path, i)) / (2 * pi);
        turned = shift + std::round(turned - shift);
        out.push_back({record.time_s(static_cast<Index>(i)), turned, path.pitch_hz[i]});
        next += piece;
    }
    return out;
}

double median_of(std::vector<double> values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

/// 1.4826 times the median distance from the median: the standard deviation of normal scatter.
double robust_scatter(std::vector<double> values) {
    const double middle = median_of(values);
    for (double& v : values) v = std::abs(v - middle);
    return 1.4826 * median_of(std::move(values));
}

/// How far pieces lie beyond the law's end, in cents, and the spread of the window behind each of them
/// over its distance from the next.
struct beyond_end {
    std::vector<double> all, last;
    std::vector<bool> near;  ///< come near the end, or pass it
    std::vector<double> spread_over_spacing;
};

beyond_end beyond_end_of(const std::vector<glide_point>& course, const glide_law& law,
                         double origin_s) {
    constexpr double last_s = 0.05, near_left = 0.2;
    const phase_law phase{law};
    const double way = law.to_hz() > law.from_hz() ? 1.0 : -1.0;
    beyond_end out;
    for (std::size_t i = 0; i < course.size(); ++i) {
        const auto& point = course[i];
        out.all.push_back(way * interval(point.measured, hertz{law.to_hz()}).value());
        out.near.push_back(phase(point.at.value() - origin_s).left < near_left);
        if (point.at > course.back().at - seconds{last_s}) out.last.push_back(out.all.back());
        const auto& next = course[i + 1 < course.size() ? i + 1 : i - 1];
        const double spacing_s = std::abs((next.at - point.at).value());
        const double period_s = 1.0 / point.measured.value();
        // Variances: of a Hann window of two cycles, and of the two pieces between two phases.
        const double variance = 4 * 0.03267 * period_s * period_s + spacing_s * spacing_s / 3;
        out.spread_over_spacing.push_back(std::sqrt(variance) / spacing_s);
    }
    return out;
}

struct top {
    double cents, rounded_off;
};

/// The highest point of the course about piece `i`, between pieces, and what the windows have taken
/// off it: half their variance times the curvature, for a top that is smooth.
top top_at(const beyond_end& pieces, std::size_t i) {
    const auto& y = pieces.all;
    if (i == 0 || i + 1 >= y.size()) return {y[i], 0.0};
    const double slope = 0.5 * (y[i + 1] - y[i - 1]);
    const double bend = y[i + 1] - 2 * y[i] + y[i - 1];
    if (!(bend < 0)) return {y[i], 0.0};
    const double higher = std::min(-0.5 * slope * slope / bend, -0.125 * bend);
    return {y[i] + higher, -0.5 * std::pow(pieces.spread_over_spacing[i], 2.0) * bend};
}

/// What the windows took off a top over what its curvature says. A round top bends beside it as it does
/// there and loses that once; one with an edge bends only where the windows hold it, and loses more.
struct rounding {
    double times, u_times;
};

/// Whether the piece stands alone. Windows reach over neighbours, so that a top falls off the more steeply
/// the farther from it; what falls off at once and no further is a period that was counted wrongly.
bool stands_alone(std::span<const double> y, std::size_t i) {
    double near = 0.0, far = 0.0;
    if (i >= 2) {
        near += y[i] - y[i - 1];
        far += y[i - 1] - y[i - 2];
    }
    if (i + 2 < y.size()) {
        near += y[i] - y[i + 1];
        far += y[i + 1] - y[i + 2];
    }
    return near > 1.5 * far;
}

rounding rounding_at(const beyond_end& pieces, std::size_t i) {
    // From the pieces two beside the top, as seen in simulated slides, half of which turn round at once
    // (scripts/coverage).
    constexpr double round = 1.0, with_edge = 2.6, u = 0.4;
    constexpr double bends_at_edge = 0.25, bends_if_round = 0.75;
    const auto& y = pieces.all;
    if (stands_alone(y, i)) return {0.0, 0.0};
    if (i < 3 || i + 3 >= y.size()) return {0.5 * (round + with_edge), 0.5 * (with_edge - round)};
    const auto bend = [&](std::size_t at) { return y[at + 1] - 2.0 * y[at] + y[at - 1]; };
    const double beside = 0.5 * (bend(i - 2) + bend(i + 2)) / std::min(bend(i), -1e-9);
    const double share =
        std::clamp((beside - bends_at_edge) / (bends_if_round - bends_at_edge), 0.0, 1.0);
    return {with_edge + share * (round - with_edge), u};
}

}  // namespace

std::vector<glide_point> course_of(const band_record& record, const glide_law& law,
                                   double origin_s) {
    if (record.volts.size() < 8) return {};
    const auto shifts = shifts_of(record, law);
    std::vector<glide_point> out;
    for (std::size_t i = 1; i + 1 < shifts.size(); ++i) {
        const auto& before = shifts[i - 1];
        const auto& after = shifts[i + 1];
        const double added = (after.cycles - before.cycles) / (after.at_s - before.at_s);
        out.push_back({seconds{shifts[i].at_s + origin_s}, hertz{shifts[i].pitch_hz + added},
                       hertz{shifts[i].pitch_hz}});
    }
    return out;
}

overshoot_reading overshoot_of(const std::vector<glide_point>& course, const glide_law& law,
                               double origin_s) {
    constexpr double certain = 4.0;  // times the scatter of single pieces
    // Of pieces a cycle long, even where the scatter happens to be less (seen, not derived).
    constexpr double least_u_cents = 0.3;
    if (course.size() < 2) return {cents{0.0}, cents{1200.0}};
    const auto pieces = beyond_end_of(course, law, origin_s);
    std::optional<std::size_t> highest;
    for (std::size_t i = 0; i < pieces.all.size(); ++i)
        if (pieces.near[i] && (!highest || pieces.all[i] > pieces.all[*highest])) highest = i;
    if (!highest) return {cents{0.0}, cents{least_u_cents}};
    // Where it rests in the end, not where the law would: a law without overshoot is bent by one.
    const double rest = median_of(pieces.last);
    const double scatter = std::hypot(robust_scatter(pieces.last), least_u_cents);
    const double largest = pieces.all[*highest] - rest;
    if (!(largest > certain * scatter)) return {cents{0.0}, cents{std::max(scatter, largest / 2)}};
    const auto found = top_at(pieces, *highest);
    const auto lost = rounding_at(pieces, *highest);
    return {cents{found.cents - rest + lost.times * found.rounded_off},
            cents{std::hypot(scatter, lost.u_times * found.rounded_off)}};
}

}  // namespace cvrig::analysis::gliding
