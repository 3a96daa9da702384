#include "analysis/glide_course.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

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

/// How far pieces lie beyond the law's end, in cents: the last ones of the record, and those that
/// come near the end or pass it.
struct beyond_end {
    std::vector<double> last, near;
};

beyond_end beyond_end_of(const std::vector<glide_point>& course, const glide_law& law,
                         double origin_s) {
    constexpr double last_s = 0.05, near_left = 0.2;
    const phase_law phase{law};
    const double way = law.to_hz() > law.from_hz() ? 1.0 : -1.0;
    beyond_end out;
    for (const auto& point : course) {
        const double beyond = way * interval(point.measured, hertz{law.to_hz()}).value();
        if (phase(point.at.value() - origin_s).left < near_left) out.near.push_back(beyond);
        if (point.at > course.back().at - seconds{last_s}) out.last.push_back(beyond);
    }
    return out;
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
    if (course.empty()) return {cents{0.0}, cents{1200.0}};
    const auto pieces = beyond_end_of(course, law, origin_s);
    if (pieces.near.empty()) return {cents{0.0}, cents{least_u_cents}};
    // Where it rests in the end, not where the law would: a law without overshoot is bent by one.
    const double scatter = std::hypot(robust_scatter(pieces.last), least_u_cents);
    const double largest = *std::ranges::max_element(pieces.near) - median_of(pieces.last);
    // Two cycles round the top off, by a tenth of it where it is narrow.
    constexpr double rounded_off = 0.07;
    if (largest > certain * scatter)
        return {cents{largest}, cents{std::hypot(scatter, rounded_off * largest)}};
    return {cents{0.0}, cents{std::max(scatter, largest / 2)}};
}

}  // namespace cvrig::analysis::gliding
