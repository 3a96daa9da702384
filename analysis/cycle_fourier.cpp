#include "analysis/cycle_fourier.hpp"

#include <complex>
#include <kissfft/kissfft.hh>

#include "analysis/fourier.hpp"

namespace cvrig::analysis {

using complex = std::complex<double>;

struct cycle_fourier::plan {
    kissfft<double> forward;
};

cycle_fourier::cycle_fourier(std::size_t highest_line)
    : points_{static_cast<Eigen::Index>(smooth_length_at_least(4 * highest_line + 1))},
      plan_{std::make_shared<const plan>(
          plan{kissfft<double>{static_cast<std::size_t>(points_), false}})} {}

void cycle_fourier::to_cycle(const lines& a, const lines& b, function& at_a, function& at_b) const {
    // A forward transform of conjugate lines is the conjugate of a backward one, which is real.
    Eigen::ArrayXcd packed = Eigen::ArrayXcd::Zero(points_);
    packed(0) = {a(0).real(), b(0).real()};
    for (Eigen::Index k = 1; k < a.size(); ++k) {
        packed(k) = {a(k).real() + b(k).imag(), b(k).real() - a(k).imag()};
        packed(points_ - k) = {a(k).real() - b(k).imag(), b(k).real() + a(k).imag()};
    }
    Eigen::ArrayXcd cycle(points_);
    plan_->forward.transform(packed.data(), cycle.data());
    at_a = cycle.real();
    at_b = cycle.imag();
}

void cycle_fourier::to_lines(const function& at_a, const function& at_b, Eigen::Index count,
                             lines& a, lines& b) const {
    Eigen::ArrayXcd cycle(points_);
    cycle.real() = at_a;
    cycle.imag() = at_b;
    Eigen::ArrayXcd packed(points_);
    plan_->forward.transform(cycle.data(), packed.data());
    const double half = 0.5 / static_cast<double>(points_);
    a.resize(count);
    b.resize(count);
    for (Eigen::Index k = 0; k < count; ++k) {
        const complex up = packed(k);
        const complex down = packed(k == 0 ? 0 : points_ - k);
        a(k) = half * complex{up.real() + down.real(), up.imag() - down.imag()};
        b(k) = half * complex{up.imag() + down.imag(), down.real() - up.real()};
    }
}

}  // namespace cvrig::analysis
