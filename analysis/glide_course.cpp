#include "analysis/glide_course.hpp"

#include <algorithm>
#include <cmath>

namespace cvrig::analysis::gliding {

using Eigen::Index;

namespace {

struct phase_shift {
    double at_s, cycles;
};

/// Pieces of a whole cycle each, of which about 60 fill the window.
std::vector<phase_shift> shifts_of(voice_model& model, const voice_fit& fit) {
    const Eigen::VectorXd slope = model.phase_slope(fit.weights);
    const double rate = model.window().rate_hz;
    const double span_s = static_cast<double>(slope.size()) / rate;
    const phase_law phase{fit.state.law};
    std::vector<phase_shift> out;
    for (Index r = 0; r < slope.size();) {
        const double cycle_s = 1 / phase(model.time_s(r)).pitch_hz;
        const double whole_cycles = std::max(1.0, std::round(span_s / 60 / cycle_s));
        const auto length = std::max(Index{4}, static_cast<Index>(whole_cycles * cycle_s * rate));
        if (r + length > slope.size()) break;
        const double weight = slope.segment(r, length).squaredNorm();
        if (weight > 0)
            out.push_back({model.time_s(r) + static_cast<double>(length - 1) / 2 / rate,
                           slope.segment(r, length).dot(fit.residual.segment(r, length)) / weight});
        r += length;
    }
    return out;
}

/// 1.4826 times the median absolute value: the standard deviation of normal scatter.
double robust_scatter(std::vector<double> values) {
    if (values.empty()) return 0.0;
    for (double& v : values) v = std::abs(v);
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return 1.4826 * *middle;
}

}  // namespace

std::vector<glide_point> course_of(voice_model& model, const voice_fit& fit, double origin_s) {
    const auto shifts = shifts_of(model, fit);
    const phase_law phase{fit.state.law};
    std::vector<glide_point> out;
    for (std::size_t i = 1; i + 1 < shifts.size(); ++i) {
        const auto& before = shifts[i - 1];
        const auto& after = shifts[i + 1];
        const double fitted = phase(shifts[i].at_s).pitch_hz;
        const double added = (after.cycles - before.cycles) / (after.at_s - before.at_s);
        out.push_back({seconds{shifts[i].at_s + origin_s}, hertz{fitted + added}, hertz{fitted}});
    }
    return out;
}

cents overshoot_of(const std::vector<glide_point>& course, const glide_law& law, double origin_s) {
    const double way = law.to_hz() > law.from_hz() ? 1.0 : -1.0;
    std::vector<double> apart;
    double largest = 0.0;
    for (const auto& point : course) {
        apart.push_back(interval(point.measured, point.fitted).value());
        if (point.at.value() - origin_s < law.start_s()) continue;
        largest = std::max(largest, way * interval(point.measured, hertz{law.to_hz()}).value());
    }
    return cents{largest > 5 * robust_scatter(apart) ? largest : 0.0};
}

}  // namespace cvrig::analysis::gliding
