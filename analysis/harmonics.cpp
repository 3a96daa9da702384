#include "analysis/harmonics.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include "analysis/samples.hpp"

namespace cvrig::analysis {

namespace {

using vector = Eigen::VectorXd;
using matrix = Eigen::MatrixXd;

constexpr double shortest_periods = 2.0;
constexpr Eigen::Index block_length = 64;
using block = Eigen::Array<double, block_length, 1>;

/// DC and cosines at [0], [1], ...; sines at [1], ... (sines[0] stays 0).
struct coefficients {
    vector cosines, sines;
};

/// Cosines and sines of one block of samples, raised from harmonic to harmonic by multiplication.
/// Time counts from the middle of the record: there cosines and sines are orthogonal.
class harmonic_block {
public:
    harmonic_block(double radians_per_sample, double first_time_samples) {
        for (Eigen::Index i = 0; i < block_length; ++i) {
            const double angle = radians_per_sample * (first_time_samples + static_cast<double>(i));
            step_cos_[i] = std::cos(angle);
            step_sin_[i] = std::sin(angle);
        }
        cos.setOnes();
        sin.setZero();
    }
    void next_harmonic() {
        const block c = cos * step_cos_ - sin * step_sin_;
        sin = sin * step_cos_ + cos * step_sin_;
        cos = c;
    }

    block cos, sin;

private:
    block step_cos_, step_sin_;
};

class tone_fit {
public:
    tone_fit(std::span<const double> samples, double radians_per_sample, std::size_t count)
        : samples_{samples}, w_{radians_per_sample}, count_{static_cast<Eigen::Index>(count)} {}

    [[nodiscard]] double middle() const { return (static_cast<double>(samples_.size()) - 1) / 2; }

    [[nodiscard]] coefficients solve() const {
        const auto right = projections();
        coefficients c{vector::Zero(count_ + 1), vector::Zero(count_ + 1)};
        const vector kernel = kernels();
        c.cosines = normal_matrix(kernel, 0, +1).llt().solve(right.cosines);
        c.sines.tail(count_) = normal_matrix(kernel, 1, -1).llt().solve(right.sines.tail(count_));
        return c;
    }

    [[nodiscard]] double residual_power(const coefficients& c) const {
        double sum = 0;
        for_each_block([&](const block& x, harmonic_block& h, Eigen::Index used) {
            block r = x;
            for (Eigen::Index k = 0; k <= count_; ++k, h.next_harmonic())
                r -= c.cosines[k] * h.cos + c.sines[k] * h.sin;
            sum += r.head(used).square().sum();
        });
        return sum / static_cast<double>(samples_.size());
    }

private:
    /// Sums of cos(m w t) over the record, m = 0, 1, ... 2 count: the Dirichlet kernel.
    [[nodiscard]] vector kernels() const {
        const auto n = static_cast<double>(samples_.size());
        vector k(2 * count_ + 1);
        k[0] = n;
        for (Eigen::Index m = 1; m < k.size(); ++m) {
            const double half = static_cast<double>(m) * w_ / 2;
            k[m] = std::sin(half * n) / std::sin(half);
        }
        return k;
    }

    /// Normal matrix of the cosines (sign +1) or sines (-1), in closed form.
    [[nodiscard]] matrix normal_matrix(const vector& kernel, Eigen::Index first,
                                       double sign) const {
        matrix a(count_ + 1 - first, count_ + 1 - first);
        for (Eigen::Index j = 0; j < a.cols(); ++j)
            for (Eigen::Index i = 0; i < a.rows(); ++i)
                a(i, j) = (kernel[std::abs(i - j)] + sign * kernel[i + j + 2 * first]) / 2;
        return a;
    }

    [[nodiscard]] coefficients projections() const {
        coefficients p{vector::Zero(count_ + 1), vector::Zero(count_ + 1)};
        for_each_block([&](const block& x, harmonic_block& h, Eigen::Index) {
            for (Eigen::Index k = 0; k <= count_; ++k, h.next_harmonic()) {
                p.cosines[k] += (x * h.cos).sum();
                p.sines[k] += (x * h.sin).sum();
            }
        });
        return p;
    }

    /// Calls `f(samples padded with 0, harmonics, samples that count)` for each block.
    template <class F>
    void for_each_block(F f) const {
        const auto n = static_cast<Eigen::Index>(samples_.size());
        for (Eigen::Index start = 0; start < n; start += block_length) {
            const auto used = std::min(block_length, n - start);
            block x = block::Zero();
            x.head(used) = Eigen::Map<const Eigen::ArrayXd>(samples_.data() + start, used);
            harmonic_block h{w_, static_cast<double>(start) - middle()};
            f(x, h, used);
        }
    }

    std::span<const double> samples_;
    double w_;
    Eigen::Index count_;
};

harmonic to_harmonic(double cosine, double sine, double radians_to_middle) {
    const double two_pi = 2 * std::numbers::pi;
    return {volts{std::hypot(cosine, sine)},
            std::remainder(std::atan2(-sine, cosine) - radians_to_middle, two_pi)};
}

std::optional<refusal> objection(std::span<const double> samples, sample_rate rate, hertz pitch,
                                 std::size_t count) {
    if (!(rate.value() > 0) || !(pitch.value() > 0) || count == 0) return refusal::bad_argument;
    if (!std::isfinite(rate.value()) || !std::isfinite(pitch.value())) return refusal::bad_argument;
    const auto n = static_cast<double>(samples.size());
    if (n * pitch.value() < shortest_periods * rate.value()) return refusal::too_short;
    const double highest = static_cast<double>(count) * pitch.value();
    if (highest > rate.nyquist().value() - rate.value() / n) return refusal::bad_argument;
    if (!all_finite(samples)) return refusal::not_finite;
    if (std::all_of(samples.begin(), samples.end(), [](double v) { return v == 0; }))
        return refusal::silent;
    return std::nullopt;
}

double overtone_power(const std::vector<harmonic>& harmonics) {
    double sum = 0;
    for (std::size_t i = 1; i < harmonics.size(); ++i)
        sum += harmonics[i].peak.value() * harmonics[i].peak.value();
    return sum;
}

}  // namespace

outcome<double> harmonic_set::thd_f() const {
    if (harmonics.empty() || harmonics[0].peak.value() == 0) return refuse(refusal::silent);
    return std::sqrt(overtone_power(harmonics)) / harmonics[0].peak.value();
}

outcome<double> harmonic_set::thd_r() const {
    return thd_f().map([](double f) { return f / std::sqrt(1 + f * f); });
}

outcome<harmonic_set> harmonic_levels(std::span<const double> samples_volts, sample_rate rate,
                                      hertz pitch, std::size_t count) {
    if (const auto reason = objection(samples_volts, rate, pitch, count)) return refuse(*reason);
    const double w = 2 * std::numbers::pi * pitch.value() / rate.value();
    const tone_fit fit{samples_volts, w, count};
    const auto c = fit.solve();

    harmonic_set set;
    set.pitch = pitch;
    set.dc = volts{c.cosines[0]};
    for (Eigen::Index k = 1; k < c.cosines.size(); ++k)
        set.harmonics.push_back(
            to_harmonic(c.cosines[k], c.sines[k], static_cast<double>(k) * w * fit.middle()));
    set.residual_rms = volts{std::sqrt(fit.residual_power(c))};
    const auto n = static_cast<double>(samples_volts.size());
    const double freedom = n - 2 * static_cast<double>(count) - 1;
    set.u_peak = set.residual_rms * std::sqrt(2.0 / freedom);
    return set;
}

}  // namespace cvrig::analysis
