#include "analysis/harmonic_basis.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <random>

using namespace cvrig::analysis;
using complex = std::complex<double>;

namespace {

line_values random_values(std::size_t harmonics, std::size_t foreign, unsigned seed) {
    std::mt19937_64 generator{seed};
    std::normal_distribution<double> normal;
    line_values v;
    v.harmonics.resize(static_cast<Eigen::Index>(harmonics));
    for (auto& h : v.harmonics) h = {normal(generator), normal(generator)};
    for (std::size_t m = 0; m < foreign; ++m)
        v.foreign[m] = {normal(generator), m == 0 ? 0.0 : normal(generator)};
    return v;
}

double time_of(std::size_t sample, std::size_t samples) {
    return (2.0 * static_cast<double>(sample) + 1.0) / static_cast<double>(samples) - 1.0;
}

/// The column itself, sample by sample.
double value_at(const line_frequencies& lines, const line_values& c, double u) {
    double sum = 0.0;
    for (std::size_t k = 0; k < lines.harmonics; ++k)
        sum += (c.harmonics(static_cast<Eigen::Index>(k)) * std::exp(lines.harmonic(k) * u)).real();
    for (std::size_t m = 0; m < lines.used_foreign(); ++m)
        sum += (c.foreign[m] * std::exp(lines.foreign(m) * u)).real();
    return sum;
}

/// The correlation by its definition.
line_values summed(const record_grid& grid, const line_frequencies& lines, const line_values& c,
                   std::size_t order) {
    line_values out;
    out.harmonics = Eigen::ArrayXcd::Zero(static_cast<Eigen::Index>(lines.harmonics));
    for (std::size_t j = 0; j < grid.samples; ++j) {
        const double u = time_of(j, grid.samples);
        const double y = std::pow(u, static_cast<double>(order)) * value_at(lines, c, u);
        for (std::size_t k = 0; k < lines.harmonics; ++k)
            out.harmonics(static_cast<Eigen::Index>(k)) += y * std::exp(lines.harmonic(k) * u);
        for (std::size_t m = 0; m < lines.used_foreign(); ++m)
            out.foreign[m] += y * std::exp(lines.foreign(m) * u);
    }
    return out;
}

double distance(const line_values& a, const line_values& b) {
    double worst = (a.harmonics - b.harmonics).abs().maxCoeff();
    for (std::size_t m = 0; m < foreign_lines; ++m)
        worst = std::max(worst, std::abs(a.foreign[m] - b.foreign[m]));
    return worst;
}

const line_frequencies some_lines[] = {
    {19.3, 0.0, 0.0, 1}, {7.1, 0.4, 0.0, 20}, {15.7, -2.0, 8.2, 33}, {31.4, 0.01, 3.3, 7}};

}  // namespace

TEST_CASE("harmonic basis: correlations equal the sums, sample by sample", "[analysis][tone]") {
    const auto lines = GENERATE(from_range(std::begin(some_lines), std::end(some_lines)));
    const record_grid grid{601};
    const harmonic_basis basis{grid, lines};
    const auto [a, b] = basis.columns(random_values(lines.harmonics, lines.used_foreign(), 1),
                                      random_values(lines.harmonics, lines.used_foreign(), 2));
    for (std::size_t order = 0; order < 4; ++order) {
        const std::size_t other = (order + 1) % 4;
        const auto fast = basis.correlate(a, order, b, other);
        // The largest sums are of the order of samples * amplitude * exp(|decay|).
        const double scale = 601.0 * std::exp(2.0 * std::abs(lines.decay));
        CAPTURE(order, lines.harmonics);
        CHECK(distance(fast[0], summed(grid, lines, a.values, order)) < 1e-12 * scale);
        CHECK(distance(fast[1], summed(grid, lines, b.values, other)) < 1e-12 * scale);
        const auto foreign = basis.foreign_of_correlation(a.values, order);
        CHECK(distance({foreign, fast[0].harmonics}, fast[0]) == 0.0);
        line_values silent = b.values;
        silent.harmonics.setZero();
        CHECK(distance(basis.correlate_foreign(b.values.foreign, order),
                       summed(grid, lines, silent, order)) < 1e-12 * scale);
    }
}

TEST_CASE("harmonic basis: hum lines added later are those of a basis made with them",
          "[analysis][tone]") {
    const line_frequencies lines{15.7, -2.0, 8.2, 33};
    line_frequencies without = lines;
    without.mains = 0.0;
    const record_grid grid{601};
    const harmonic_basis whole{grid, lines};
    const harmonic_basis later = harmonic_basis{grid, without}.with_mains(lines.mains);
    const auto [a, b] = whole.columns(random_values(lines.harmonics, foreign_lines, 7),
                                      random_values(lines.harmonics, foreign_lines, 8));
    const auto expected = whole.correlate(a, 1, b, 2);
    const auto found = later.correlate(a, 1, b, 2);
    // The same operations in the same order.
    CHECK(distance(found[0], expected[0]) == 0.0);
    CHECK(distance(found[1], expected[1]) == 0.0);
}

TEST_CASE("harmonic basis: products of two columns equal the sums, sample by sample",
          "[analysis][tone]") {
    const auto lines = GENERATE(from_range(std::begin(some_lines), std::end(some_lines)));
    const record_grid grid{602};
    const harmonic_basis basis{grid, lines};
    const auto [a, b] =
        basis.columns(random_values(lines.harmonics, 0, 3), random_values(lines.harmonics, 0, 4));
    for (std::size_t order = 0; order < 4; ++order) {
        double sum = 0.0;
        for (std::size_t j = 0; j < grid.samples; ++j) {
            const double u = time_of(j, grid.samples);
            sum += std::pow(u, static_cast<double>(order)) * value_at(lines, a.values, u) *
                   value_at(lines, b.values, u);
        }
        const double scale =
            602.0 * static_cast<double>(lines.harmonics) * std::exp(2.0 * std::abs(lines.decay));
        CAPTURE(order, lines.harmonics);
        CHECK(std::abs(basis.inner(a, b, order) - sum) < 1e-12 * scale);
    }
}

TEST_CASE("cycle fourier: lines survive the way to the cycle and back", "[analysis][tone]") {
    const std::size_t highest = GENERATE(1U, 2U, 17U, 300U);
    const cycle_fourier fourier{highest};
    Eigen::ArrayXcd a = random_values(highest + 1, 0, 5).harmonics;
    Eigen::ArrayXcd b = random_values(highest + 1, 0, 6).harmonics;
    a(0) = 1.0;
    b(0) = -2.0;
    Eigen::ArrayXd at_a;
    Eigen::ArrayXd at_b;
    fourier.to_cycle(a, b, at_a, at_b);
    // By definition the value at x = 0 is the sum of all lines, those below 0 included.
    CHECK(std::abs(at_a(0) - (2.0 * a.real().sum() - 1.0)) < 1e-11);
    Eigen::ArrayXcd again_a;
    Eigen::ArrayXcd again_b;
    fourier.to_lines(at_a, at_b, a.size(), again_a, again_b);
    CHECK((again_a - a).abs().maxCoeff() < 1e-13);  // rounding of a few hundred terms
    CHECK((again_b - b).abs().maxCoeff() < 1e-13);
}
