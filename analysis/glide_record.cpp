#include "analysis/glide_record.hpp"

#include <cmath>
#include <numbers>

namespace cvrig::analysis::gliding {

using std::numbers::pi;

double band_edge::response(double f_hz) const {
    return 0.5 * std::erfc((std::abs(f_hz) - centre_hz()) / (sigma_hz() * std::numbers::sqrt2));
}

double band_edge::impulse(double t_s) const {
    const double spread = 2 * pi * pi * sigma_hz() * sigma_hz() * t_s * t_s;
    const double x = 2 * pi * centre_hz() * t_s;
    const double core = std::abs(x) < 1e-9 ? 1.0 : std::sin(x) / x;
    return 2 * centre_hz() * core * std::exp(-spread);
}

double band_edge::reach_s() const {
    return std::sqrt(11.5 / 2) / (pi * sigma_hz());
}

band_record band_limited(std::span<const double> volts, double rate_hz, double origin_s,
                         band_edge band, int keep_every) {
    const auto reach = static_cast<Eigen::Index>(std::ceil(band.reach_s() * rate_hz));
    const auto length = static_cast<Eigen::Index>(volts.size());
    band_record out{
        static_cast<double>(reach) / rate_hz - origin_s, rate_hz / keep_every, band, 0.0, {}};
    if (length <= 2 * reach) return out;
    Eigen::VectorXd kernel(2 * reach + 1);
    for (Eigen::Index i = -reach; i <= reach; ++i)
        kernel[i + reach] = band.impulse(static_cast<double>(i) / rate_hz) / rate_hz;
    out.noise_gain = kernel.norm();
    const Eigen::Map<const Eigen::VectorXd> in(volts.data(), length);
    out.volts.resize((length - 2 * reach - 1) / keep_every + 1);
    for (Eigen::Index i = 0; i < out.volts.size(); ++i)
        out.volts[i] = kernel.dot(in.segment(i * keep_every, kernel.size()));
    return out;
}

}  // namespace cvrig::analysis::gliding
