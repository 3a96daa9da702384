#include "analysis/slide_share.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <vector>

#include "analysis/samples.hpp"
#include "analysis/short_phase.hpp"

namespace cvrig::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr double assumed_share = 0.5;

/// What is expected up to each sample, in cycles: of all, of all behind the border, and how much one
/// whole share adds.
struct expected_cycles {
    std::vector<double> all, behind, of_share;
};

expected_cycles expect(std::size_t count, sample_rate rate, const tied_notes& n) {
    expected_cycles out;
    const double octaves =
        std::log2(n.before.at(seconds{static_cast<double>(n.border) / rate.value()}) / n.to);
    double all = 0.0, behind = 0.0, of_share = 0.0;
    const double dt = 1.0 / rate.value();
    const double kept = std::exp(-dt / n.time_constant.value());
    double left = 1.0;
    for (std::size_t i = 0; i < count; ++i) {
        out.all.push_back(all);
        out.behind.push_back(behind);
        out.of_share.push_back(of_share);
        if (i < n.border) {
            all += n.before.at(seconds{static_cast<double>(i) * dt}).value() * dt;
            continue;
        }
        const double step = n.to.value() * std::exp2(octaves * assumed_share * left) * dt;
        all += step;
        behind += step;
        of_share += step * std::numbers::ln2 * octaves * left;
        left *= kept;
    }
    return out;
}

std::vector<std::complex<double>> turned_back(std::span<const double> record,
                                              std::span<const double> cycles) {
    const double mean = cvrig::analysis::mean(record);
    std::vector<std::complex<double>> out;
    out.reserve(record.size());
    for (std::size_t i = 0; i < record.size(); ++i)
        out.push_back((record[i] - mean) * std::polar(1.0, -two_pi * cycles[i]));
    return out;
}

/// The same windows over a course.
std::vector<double> under_windows(std::span<const double> course, std::span<const double> window,
                                  std::size_t hop) {
    double sum = 0.0;
    for (const double w : window) sum += w;
    std::vector<double> out;
    for (std::size_t begin = 0; begin + window.size() <= course.size(); begin += hop) {
        double v = 0.0;
        for (std::size_t i = 0; i < window.size(); ++i) v += window[i] * course[begin + i];
        out.push_back(v / sum);
    }
    return out;
}

hertz lowest_of(const tied_notes& n, seconds before) {
    return std::min({n.before.at(seconds{0.0}), n.before.at(before), n.to});
}

hertz highest_of(const tied_notes& n, seconds before) {
    return std::max({n.before.at(seconds{0.0}), n.before.at(before), n.to});
}

}  // namespace

outcome<slide_share_reading> read_slide_share(std::span<const double> record, sample_rate rate,
                                              const tied_notes& notes) {
    if (!(rate.value() > 0.0) || !(notes.to.value() > 0.0) || !(notes.before.to.value() > 0.0) ||
        !(notes.before.from.value() > 0.0) || !(notes.time_constant.value() > 0.0))
        return refuse(refusal::bad_argument);
    if (record.size() < 64 || notes.border >= record.size()) return refuse(refusal::too_short);
    if (!all_finite(record)) return refuse(refusal::not_finite);
    const seconds before{static_cast<double>(notes.border) / rate.value()};
    const hertz from = notes.before.at(before);
    const double octaves = std::abs(std::log2(from / notes.to));
    if (!(octaves > 0.0) || octaves > 1.01) return refuse(refusal::bad_argument);
    const hertz lowest = lowest_of(notes, before);
    if (!(rate.value() > 8.0 * lowest.value())) return refuse(refusal::bad_argument);
    const double behind_s = static_cast<double>(record.size() - notes.border) / rate.value();
    if (before.value() * lowest.value() < 3.0 || behind_s < 2.0 * notes.time_constant.value())
        return refuse(refusal::too_short);

    const auto expected = expect(record.size(), rate, notes);
    const auto window = short_window(lowest, rate);
    const auto hop = hop_of(window, highest_of(notes, before), rate);
    const auto found = follow_phase(turned_back(record, expected.all), expected.all, window, hop);
    constexpr Eigen::Index unknowns = 4;
    const auto points = static_cast<Eigen::Index>(found.phase.size());
    if (points < 2 * unknowns) return refuse(refusal::too_short);
    double power = 0.0;
    const double dc = mean(record);
    for (const double v : record) power += (v - dc) * (v - dc);
    power /= static_cast<double>(record.size());
    if (!(power > 0.0)) return refuse(refusal::silent);

    const auto all = under_windows(expected.all, window, hop);
    const auto behind = under_windows(expected.behind, window, hop);
    const auto of_share = under_windows(expected.of_share, window, hop);
    Eigen::MatrixXd basis(points, unknowns);
    Eigen::VectorXd phase(points);
    for (Eigen::Index k = 0; k < points; ++k) {
        const auto i = static_cast<std::size_t>(k);
        basis.row(k) << 1.0, all[i] - behind[i], behind[i], of_share[i];
        phase[k] = found.phase[i];
    }
    const Eigen::ColPivHouseholderQR<Eigen::MatrixXd> solver{basis};
    if (solver.rank() < unknowns) return refuse(refusal::no_fit);
    const Eigen::VectorXd best = solver.solve(phase);
    const double squares = (phase - basis * best).squaredNorm();
    // Neighbours share most of their samples: those of one window are worth about one.
    const double variance = squares / static_cast<double>(points - unknowns);
    const Eigen::MatrixXd normal = (basis.transpose() * basis).inverse();
    const double u =
        std::sqrt(found.hops_in_window * variance * normal(unknowns - 1, unknowns - 1));
    if (!std::isfinite(u)) return refuse(refusal::no_fit);
    return slide_share_reading{assumed_share + best[unknowns - 1], u, expected.of_share.back(),
                               found.power / power};
}

}  // namespace cvrig::analysis
