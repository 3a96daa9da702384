#include "analysis/glide_start.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <utility>

namespace cvrig::analysis::gliding {

namespace {

using vector4 = Eigen::Vector4d;
using Eigen::Index;
using Eigen::VectorXd;

/// Values of the record at equal steps of phase, and the moments at which they were read.
struct phase_reading {
    int steps_per_cycle;
    VectorXd at_s, volts, slope;  // slope in volts per second
};

/// Value and slope of the cubic through four neighbours (Catmull-Rom).
struct local_cubic {
    double value, slope;
};

local_cubic read_at(const band_record& record, double t_s) {
    const double place = (t_s - record.first_s) * record.rate_hz;
    const auto i =
        std::clamp(static_cast<Index>(std::floor(place)), Index{1}, record.volts.size() - 3);
    const double x = place - static_cast<double>(i);
    const double* v = record.volts.data() + i;
    const double c1 = 0.5 * (v[1] - v[-1]);
    const double c2 = v[-1] - 2.5 * v[0] + 2 * v[1] - 0.5 * v[2];
    const double c3 = 0.5 * (v[2] - v[-1]) + 1.5 * (v[0] - v[1]);
    return {v[0] + x * (c1 + x * (c2 + x * c3)), (c1 + x * (2 * c2 + 3 * x * c3)) * record.rate_hz};
}

/// The moments of equally spaced phases: the law is evaluated at a few nodes and inverted between
/// them by cubic Hermite pieces, whose slopes 1/f are exact.
VectorXd moments_of_phase(const band_record& record, const glide_law& law, int steps_per_cycle) {
    const phase_law phase{law};
    const double first = record.time_s(1);
    const double last = record.time_s(record.volts.size() - 3);
    const double node_s = std::clamp(law.tau_s() / 4, 1 / record.rate_hz, 0.005);
    const double p_first = std::ceil(phase.cycles(first));
    const double p_last = phase.cycles(last);
    const double step = 1.0 / steps_per_cycle;
    VectorXd at(static_cast<Index>(std::max(0.0, p_last - p_first) * steps_per_cycle));
    double t0 = first;
    auto low = phase(t0);
    Index i = 0;
    while (i < at.size() && t0 < last) {
        // A node sits on the kink at the start; nodes are wide where the pitch is steady.
        const double next = law.before ? std::min(t0 + node_s, law.start_s()) : law.start_s();
        double t1 = std::min(t0 < law.start_s() ? next : t0 + node_s, last);
        if (t1 - t0 < 1e-9) t1 = std::min(t0 + node_s, last);
        const auto high = phase(t1);
        const double width = high.cycles - low.cycles;
        for (; i < at.size(); ++i) {
            const double x = (p_first + static_cast<double>(i) * step - low.cycles) / width;
            if (x > 1) break;
            const double m0 = width / low.pitch_hz, m1 = width / high.pitch_hz, d = t1 - t0;
            at[i] = t0 + x * (m0 + x * (3 * d - 2 * m0 - m1 + x * (m0 + m1 - 2 * d)));
        }
        t0 = t1;
        low = high;
    }
    at.conservativeResize(i);
    return at;
}

phase_reading read_by_phase(const band_record& record, const glide_law& law) {
    const double lowest = std::min(law.from_hz(), law.to_hz());
    const double harmonics = record.band.centre_hz() / lowest;
    phase_reading out{std::clamp(static_cast<int>(2.5 * harmonics), 12, 64), {}, {}, {}};
    out.at_s = moments_of_phase(record, law, out.steps_per_cycle);
    out.volts.resize(out.at_s.size());
    out.slope.resize(out.at_s.size());
    for (Index i = 0; i < out.at_s.size(); ++i) {
        const auto [value, slope] = read_at(record, out.at_s[i]);
        out.volts[i] = value;
        out.slope[i] = slope;
    }
    return out;
}

/// Gain from a cycle to the one `apart` later: envelopes decay, filters colour.
double cycle_gain(const VectorXd& volts, Index begin, Index lag, Index length) {
    const auto a = volts.segment(begin, length);
    const auto b = volts.segment(begin + lag, length);
    const double power = a.squaredNorm();
    return power > 0 ? std::clamp(a.dot(b) / power, 0.5, 2.0) : 1.0;
}

double unlikeness_of(const phase_reading& r, int apart) {
    const Index cycle = r.steps_per_cycle;
    const Index lag = cycle * apart;
    double differ = 0.0, power = 0.0;
    for (Index i = 0; i + lag + cycle <= r.volts.size(); i += cycle) {
        const double gain = cycle_gain(r.volts, i, lag, cycle);
        differ +=
            (r.volts.segment(i + lag, cycle) - gain * r.volts.segment(i, cycle)).squaredNorm();
        power += r.volts.segment(i + lag, cycle).squaredNorm();
    }
    return power > 0 ? differ / power : 1.0;
}

/// Normal equations of the differences between cycles, in the law's four parameters.
struct normal_equations {
    Eigen::Matrix4d matrix = Eigen::Matrix4d::Zero();
    vector4 gradient = vector4::Zero();
    double power{0.0};
    Index count{0};
};

normal_equations linearise(const phase_reading& r, const glide_law& law, int apart) {
    const phase_law phase{law};
    Eigen::Matrix<double, 4, Eigen::Dynamic> by(4, r.at_s.size());
    VectorXd slope(r.at_s.size());  // volts per cycle
    for (Index i = 0; i < r.at_s.size(); ++i) {
        const auto point = phase(r.at_s[i]);
        by.col(i) = Eigen::Map<const vector4>(point.by.data());
        slope[i] = r.slope[i] / point.pitch_hz;
    }
    const Index cycle = r.steps_per_cycle;
    const Index lag = cycle * apart;
    normal_equations out;
    for (Index begin = 0; begin + lag + cycle <= r.volts.size(); begin += cycle) {
        const double gain = cycle_gain(r.volts, begin, lag, cycle);
        for (Index i = begin; i < begin + cycle; ++i) {
            // Only the distance between the two matters; what moves both alike would drown it.
            const vector4 d =
                -0.5 * (slope[i + lag] + gain * slope[i]) * (by.col(i + lag) - by.col(i));
            out.matrix += d * d.transpose();
            out.gradient += d * (r.volts[i + lag] - gain * r.volts[i]);
            out.power += r.volts[i + lag] * r.volts[i + lag];
        }
        out.count += cycle;
    }
    return out;
}

/// Damped Gauss-Newton steps on the unlikeness, held by what is known beforehand.
glide_start refine(const band_record& record, const law_prior& prior, glide_start from, int apart) {
    const vector4 longest{0.01, 0.01, 0.3, 0.001};
    auto penalty = [&](const glide_law& law, double scale) {
        double sum = 0.0;
        for (std::size_t k = 0; k < law_places; ++k)
            if (prior.u[k] > 0) sum += std::pow((law.at[k] - prior.at[k]) / prior.u[k], 2);
        return sum * scale;
    };
    double damping = 1e-3;
    auto here = read_by_phase(record, from.law);
    from.unlike = unlikeness_of(here, apart);
    for (int round = 0; round < 12; ++round) {
        auto eq = linearise(here, from.law, apart);
        if (eq.count == 0) return from;
        const double scale = from.unlike / static_cast<double>(eq.count);  // of a value, per power
        eq.matrix /= eq.power;
        eq.gradient /= eq.power;
        for (std::size_t k = 0; k < law_places; ++k) {
            if (prior.u[k] <= 0) continue;
            const double weight = scale / (prior.u[k] * prior.u[k]);
            const auto i = static_cast<Index>(k);
            eq.matrix(i, i) += weight;
            eq.gradient[i] += weight * (from.law.at[k] - prior.at[k]);
        }
        Eigen::Matrix4d damped = eq.matrix;
        damped.diagonal() *= 1 + damping;
        damped.diagonal().array() += 1e-30;
        const vector4 step =
            (-damped.ldlt().solve(eq.gradient)).cwiseMax(-longest).cwiseMin(longest);
        glide_start next = from;
        for (std::size_t k = 0; k < law_places; ++k) next.law.at[k] += step[static_cast<Index>(k)];
        auto there = read_by_phase(record, next.law);
        next.unlike = unlikeness_of(there, apart);
        const double before = from.unlike + penalty(from.law, scale);
        const double after = next.unlike + penalty(next.law, scale);
        if (!(after < before)) {
            damping = std::max(damping, 1e-3) * 8;
            if (damping > 1e4) break;
            continue;
        }
        from = next;
        here = std::move(there);
        damping /= 10;
        if (before - after < 1e-3 * before) break;
    }
    return from;
}

/// A coarse grid over time constants from 0.5 to 500 ms and over starts.
std::vector<glide_start> scan(const band_record& record, const law_prior& prior,
                              glide_shape shape) {
    std::vector<glide_start> out;
    for (double tau = 0.0005; tau < 0.5; tau *= 1.4) {
        const bool start_matters =
            tau < 3 * std::exp(-std::min(prior.at[ln_from], prior.at[ln_to]));
        for (const double offset : {0.0, -0.9, 0.9}) {
            if (offset != 0.0 && !start_matters) break;
            glide_law law{shape, prior.at, prior.before};
            law.at[ln_tau] = std::log(tau);
            law.at[at_start] += offset * prior.u[at_start];
            out.push_back({law, unlikeness(record, law, 1)});
        }
    }
    std::sort(out.begin(), out.end(), [](auto& a, auto& b) { return a.unlike < b.unlike; });
    return out;
}

/// The best of a sorted list that are not neighbours of a better one.
std::vector<glide_start> distinct(const std::vector<glide_start>& sorted, std::size_t most) {
    std::vector<glide_start> out;
    for (const auto& s : sorted) {
        const bool near_a_better = std::any_of(out.begin(), out.end(), [&](const glide_start& o) {
            return std::abs(o.law.at[ln_tau] - s.law.at[ln_tau]) < 0.5;
        });
        if (!near_a_better) out.push_back(s);
        if (out.size() == most) break;
    }
    return out;
}

}  // namespace

double unlikeness(const band_record& record, const glide_law& law, int apart) {
    return unlikeness_of(read_by_phase(record, law), apart);
}

glide_start refined(const band_record& record, const law_prior& prior, const glide_law& law) {
    glide_start start{law, 1.0};
    for (const int apart : {1, 2, 4}) start = refine(record, prior, start, apart);
    return start;
}

std::vector<glide_start> find_starts(const band_record& record, const law_prior& prior,
                                     glide_shape shape) {
    auto starts = distinct(scan(record, prior, shape), 3);
    for (auto& s : starts) s = refined(record, prior, s.law);
    std::sort(starts.begin(), starts.end(), [](auto& a, auto& b) { return a.unlike < b.unlike; });
    return distinct(starts, 3);
}

}  // namespace cvrig::analysis::gliding
