#include "analysis/harmonics.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <utility>

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

    /// Sums of the coefficients times all cosines and all sines, by C. W. Clenshaw's recurrence
    /// (Math. Comp. 9, 1955), which needs no cosine but the first.
    [[nodiscard]] std::pair<block, block> series(const coefficients& c) const {
        const block twice = 2 * step_cos_;
        block even = block::Zero();
        block even_above = block::Zero();
        block odd = block::Zero();
        block odd_above = block::Zero();
        // Two orders in each turn, so that nothing need be copied; one above the last counts as 0.
        Eigen::Index k = c.cosines.size() - 1;
        if (k % 2 != 0) {
            even.setConstant(c.cosines[k]);
            odd.setConstant(c.sines[k]);
            --k;
        }
        for (; k > 0; k -= 2) {
            even_above = (twice * even - even_above) + c.cosines[k];
            odd_above = (twice * odd - odd_above) + c.sines[k];
            even = (twice * even_above - even) + c.cosines[k - 1];
            odd = (twice * odd_above - odd) + c.sines[k - 1];
        }
        return {step_cos_ * even - even_above + c.cosines[0], step_sin_ * odd};
    }

    block cos, sin;

private:
    block step_cos_, step_sin_;
};

/// A record about its middle: the even part holds all cosines, the odd part all sines, and both
/// are half as long.
struct halves {
    explicit halves(std::span<const double> samples)
        : first_time{samples.size() % 2 == 0 ? 0.5 : 0.0},
          even((static_cast<Eigen::Index>(samples.size()) + 1) / 2),
          odd(even.size()) {
        const std::size_t n = samples.size();
        for (Eigen::Index i = 0; i < even.size(); ++i) {
            const auto later = n / 2 + static_cast<std::size_t>(i);
            const double up = samples[later];
            const double down = samples[n - 1 - later];
            even[i] = 0.5 * (up + down);
            odd[i] = 0.5 * (up - down);
        }
    }

    /// A time stands for itself and its mirror, but the middle for itself only.
    [[nodiscard]] double weight(Eigen::Index i) const {
        return i == 0 && first_time == 0.0 ? 1.0 : 2.0;
    }

    double first_time;  // of element 0, in samples after the middle
    Eigen::ArrayXd even, odd;
};

}  // namespace

class harmonic_meter::normal_equations {
public:
    normal_equations(std::size_t samples, double radians_per_sample, std::size_t count)
        : samples_{samples}, w_{radians_per_sample}, count_{static_cast<Eigen::Index>(count)} {
        const vector kernel = kernels();
        for_cosines_.compute(normal_matrix(kernel, 0, +1));
        for_sines_.compute(normal_matrix(kernel, 1, -1));
    }

    [[nodiscard]] std::size_t samples() const { return samples_; }
    [[nodiscard]] double radians_to_middle() const {
        return w_ * (static_cast<double>(samples_) - 1) / 2;
    }

    [[nodiscard]] coefficients solve(const halves& x) const {
        coefficients c = projections(x);
        c.cosines = for_cosines_.solve(c.cosines).eval();
        c.sines.tail(count_) = for_sines_.solve(c.sines.tail(count_)).eval();
        return c;
    }

    [[nodiscard]] double residual_power(const halves& x, const coefficients& c) const {
        double sum = 0;
        for_each_block(x, [&](const block& even, const block& odd, const block& weight,
                              const harmonic_block& h) {
            const auto [cosines, sines] = h.series(c);
            sum += (weight * ((even - cosines).square() + (odd - sines).square())).sum();
        });
        return sum / static_cast<double>(samples_);
    }

private:
    /// Sums of cos(m w t) over the record, m = 0, 1, ... 2 count: the Dirichlet kernel.
    [[nodiscard]] vector kernels() const {
        const auto n = static_cast<double>(samples_);
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

    [[nodiscard]] coefficients projections(const halves& x) const {
        coefficients p{vector::Zero(count_ + 1), vector::Zero(count_ + 1)};
        for_each_block(x, [&](block even, block odd, const block& weight, harmonic_block& h) {
            even *= weight;
            odd *= weight;
            for (Eigen::Index k = 0; k <= count_; ++k, h.next_harmonic()) {
                p.cosines[k] += (even * h.cos).sum();
                p.sines[k] += (odd * h.sin).sum();
            }
        });
        return p;
    }

    /// Calls `f(even part, odd part, weight, harmonics)` for each block; past the end all but the
    /// harmonics are 0.
    template <class F>
    void for_each_block(const halves& x, F f) const {
        for (Eigen::Index start = 0; start < x.even.size(); start += block_length) {
            const auto used = std::min(block_length, x.even.size() - start);
            block even = block::Zero();
            block odd = block::Zero();
            block weight = block::Zero();
            even.head(used) = x.even.segment(start, used);
            odd.head(used) = x.odd.segment(start, used);
            weight.head(used).setConstant(2.0);
            weight[0] = x.weight(start);
            harmonic_block h{w_, static_cast<double>(start) + x.first_time};
            f(even, odd, weight, h);
        }
    }

    std::size_t samples_;
    double w_;
    Eigen::Index count_;
    Eigen::LLT<matrix> for_cosines_;
    Eigen::LLT<matrix> for_sines_;
};

namespace {

harmonic to_harmonic(double cosine, double sine, double radians_to_middle) {
    const double two_pi = 2 * std::numbers::pi;
    return {volts{std::hypot(cosine, sine)},
            std::remainder(std::atan2(-sine, cosine) - radians_to_middle, two_pi)};
}

std::optional<refusal> objection(std::size_t samples, sample_rate rate, hertz pitch,
                                 std::size_t count) {
    if (!(rate.value() > 0) || !(pitch.value() > 0) || count == 0) return refusal::bad_argument;
    if (!std::isfinite(rate.value()) || !std::isfinite(pitch.value())) return refusal::bad_argument;
    const auto n = static_cast<double>(samples);
    if (n * pitch.value() < shortest_periods * rate.value()) return refusal::too_short;
    const double highest = static_cast<double>(count) * pitch.value();
    if (highest > rate.nyquist().value() - rate.value() / n) return refusal::bad_argument;
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

outcome<harmonic_meter> harmonic_meter::prepared(std::size_t samples, sample_rate rate, hertz pitch,
                                                 std::size_t count) {
    if (const auto reason = objection(samples, rate, pitch, count)) return refuse(*reason);
    const double w = 2 * std::numbers::pi * pitch.value() / rate.value();
    return harmonic_meter{pitch, std::make_shared<const normal_equations>(samples, w, count)};
}

outcome<harmonic_set> harmonic_meter::levels(std::span<const double> samples_volts) const {
    if (samples_volts.size() != equations_->samples()) return refuse(refusal::bad_argument);
    if (!all_finite(samples_volts)) return refuse(refusal::not_finite);
    if (std::all_of(samples_volts.begin(), samples_volts.end(), [](double v) { return v == 0; }))
        return refuse(refusal::silent);
    const halves x{samples_volts};
    const auto c = equations_->solve(x);

    harmonic_set set;
    set.pitch = pitch_;
    set.dc = volts{c.cosines[0]};
    for (Eigen::Index k = 1; k < c.cosines.size(); ++k)
        set.harmonics.push_back(to_harmonic(
            c.cosines[k], c.sines[k], static_cast<double>(k) * equations_->radians_to_middle()));
    set.residual_rms = volts{std::sqrt(equations_->residual_power(x, c))};
    const auto n = static_cast<double>(samples_volts.size());
    const double freedom = n - 2 * static_cast<double>(set.harmonics.size()) - 1;
    set.u_peak = set.residual_rms * std::sqrt(2.0 / freedom);
    return set;
}

outcome<harmonic_set> harmonic_levels(std::span<const double> samples_volts, sample_rate rate,
                                      hertz pitch, std::size_t count) {
    const auto meter = harmonic_meter::prepared(samples_volts.size(), rate, pitch, count);
    if (!meter) return refuse(meter.error());
    return meter->levels(samples_volts);
}

}  // namespace cvrig::analysis
