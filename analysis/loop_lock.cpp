#include "analysis/loop_lock.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "analysis/fourier.hpp"

namespace cvrig::analysis {

namespace {

// In standard deviations. Noise stays below 7 for a hundred thousand lags; but short stretches of a
// sequence made with two taps are sometimes more alike than noise (J. H. Lindholm, "An analysis of
// the pseudo-randomness properties of subsequences of long m-sequences", 1968).
constexpr double strong = 10.0;
constexpr std::ptrdiff_t nearest_shift = 12;

std::vector<double> padded(const float* from, std::size_t count, std::size_t length) {
    std::vector<double> out(length, 0.0);
    std::copy_n(from, count, out.begin());
    return out;
}

// The whole spectrum of a real signal, from its first half.
std::vector<complex_volts> whole_product(const std::vector<complex_volts>& a,
                                         const std::vector<complex_volts>& b, std::size_t length) {
    std::vector<complex_volts> out(length);
    for (std::size_t k = 0; k <= length / 2; ++k) out[k] = std::conj(a[k]) * b[k];
    for (std::size_t k = length / 2 + 1; k < length; ++k) out[k] = std::conj(out[length - k]);
    return out;
}

// The sequence from an index on, with zeros where it has no samples.
std::vector<double> slice(const padded_sequence& sent, std::ptrdiff_t from, std::size_t length) {
    std::vector<double> out(length, 0.0);
    const auto first = std::max(from, std::ptrdiff_t{0});
    const auto last = std::min(from + static_cast<std::ptrdiff_t>(length), sent.size());
    if (last > first) std::copy(sent.at(first), sent.at(last), out.begin() + (first - from));
    return out;
}

double power(const float* x, std::ptrdiff_t count) {
    double sum = 0.0;
    for (std::ptrdiff_t n = 0; n < count; ++n)
        sum += static_cast<double>(x[n]) * static_cast<double>(x[n]);
    return sum / static_cast<double>(std::max<std::ptrdiff_t>(count, 1));
}

std::optional<std::ptrdiff_t> strongest_lag(const loop_signal& s, const loop_stretch& where,
                                            const lag_range& lags) {
    const auto span = static_cast<std::size_t>(lags.to - lags.from + 1);
    const auto samples = static_cast<std::size_t>(where.samples);
    const auto length = fast_length_at_least(span + samples);
    const auto heard = padded(s.heard.high.data() + where.from, samples, length);
    const auto sent = slice(s.sent, where.from - lags.to, length);
    const auto correlation =
        transform(whole_product(real_transform(heard), real_transform(sent), length), true);
    double sum = 0.0;
    double largest = 0.0;
    std::size_t place = 0;
    for (std::size_t q = 0; q < span; ++q) {
        const double v = correlation[q].real() * correlation[q].real();
        sum += v;
        if (v > largest) {
            largest = v;
            place = q;
        }
    }
    if (largest <= strong * strong * sum / static_cast<double>(span)) return std::nullopt;
    return lags.to - static_cast<std::ptrdiff_t>(place);
}

// Least squares by the normal equations: in a short stretch the delayed sequences are far from
// orthogonal, so steps towards the fit may not arrive.
loop_taps fitted(const loop_signal& s, const loop_stretch& where) {
    constexpr auto taps = static_cast<Eigen::Index>(std::tuple_size_v<loop_taps>);
    using vector = Eigen::Matrix<float, taps, 1>;
    Eigen::Matrix<double, taps, taps> products = Eigen::Matrix<double, taps, taps>::Zero();
    Eigen::Matrix<double, taps, 1> heard_products = Eigen::Matrix<double, taps, 1>::Zero();
    const float* sequence = s.sent_high.at(where.from - where.lag - loop_reach);
    const float* heard = s.heard.high.data() + where.from;
    for (std::ptrdiff_t n = 0; n < where.samples; ++n) {
        const Eigen::Matrix<double, taps, 1> row =
            Eigen::Map<const vector>(sequence + n).cast<double>();
        products.selfadjointView<Eigen::Lower>().rankUpdate(row);
        heard_products += row * static_cast<double>(heard[n]);
    }
    const Eigen::LDLT<Eigen::Matrix<double, taps, taps>, Eigen::Lower> solver{products};
    loop_taps out{};
    Eigen::Map<vector>(out.data()) = solver.solve(heard_products).cast<float>();
    return out;
}

// Log-likelihood of "there" over "not there", up to its scale, in each quarter of the stretch: a
// stretch with a break in it fails in one.
bool every_quarter_agrees(const loop_signal& s, const loop_lock& lock,
                          std::span<const float> prediction) {
    const std::size_t quarter = prediction.size() / 4;
    const float* heard = s.heard.high.data() + lock.where.from;
    for (std::size_t q = 0; q < 4; ++q) {
        double score = 0.0;
        double expected = 0.0;
        for (std::size_t n = q * quarter; n < (q + 1) * quarter; ++n) {
            const double p = prediction[n];
            score += p * (2.0 * static_cast<double>(heard[n]) - p);
            expected += p * p;
        }
        if (score <= 0.3 * expected) return false;
    }
    return true;
}

// The taps of pure noise have an energy of 32 noise powers a sample, with a standard deviation of
// 8 (chi-squared, 32 degrees of freedom); twenty of these for the reason given above.
bool stands_out(const loop_taps& h, double residual_power, std::ptrdiff_t samples) {
    double energy = 0.0;
    for (const float v : h) energy += static_cast<double>(v) * static_cast<double>(v);
    return energy * static_cast<double>(samples) > (32.0 + 20 * 8.0) * residual_power;
}

}  // namespace

std::optional<loop_lock> lock_near(const loop_signal& s, const loop_stretch& where) {
    const auto inside = within_sequence(s, where);
    if (inside.samples < where.samples || where.samples < 128) return std::nullopt;
    if (power(s.heard.high.data() + where.from, where.samples) == 0.0) return std::nullopt;
    loop_lock lock{where, fitted(s, where), 0.0};
    const auto shift = largest_tap(lock.taps);
    if (std::abs(shift) > nearest_shift) return std::nullopt;
    if (shift != 0) {
        lock.where.lag += shift;
        if (within_sequence(s, lock.where).samples < where.samples) return std::nullopt;
        lock.taps = fitted(s, lock.where);
    }
    const auto prediction = predicted(s, lock.where, lock.taps);
    const float* heard = s.heard.high.data() + where.from;
    for (std::size_t n = 0; n < prediction.size(); ++n) {
        const double rest = static_cast<double>(heard[n]) - static_cast<double>(prediction[n]);
        lock.residual_power += rest * rest / static_cast<double>(prediction.size());
    }
    if (!stands_out(lock.taps, lock.residual_power, where.samples)) return std::nullopt;
    if (!every_quarter_agrees(s, lock, prediction)) return std::nullopt;
    return lock;
}

search_result search_lock(const loop_signal& s, const loop_stretch& where, const lag_range& lags) {
    if (power(s.heard.high.data() + where.from, where.samples) == 0.0) return {};
    search_result out;
    out.best_lag = strongest_lag(s, where, lags);
    if (out.best_lag) out.lock = lock_near(s, {where.from, where.samples, *out.best_lag});
    return out;
}

}  // namespace cvrig::analysis
