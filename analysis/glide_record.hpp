#pragma once

#include <Eigen/Core>
#include <span>

namespace cvrig::analysis::gliding {

/// Low-pass response that a record and its model share: 1 up to `edge_hz`, a Gaussian edge of
/// `width_hz` after it, zero phase. Its impulse response is known in closed form.
struct band_edge {
    double edge_hz;
    double width_hz;

    [[nodiscard]] double centre_hz() const { return edge_hz + width_hz / 2; }
    [[nodiscard]] double sigma_hz() const { return width_hz / 9; }
    [[nodiscard]] double response(double f_hz) const;
    [[nodiscard]] double impulse(double t_s) const;
    /// Half the length of the impulse response, beyond which about 1e-7 of it is left.
    [[nodiscard]] double reach_s() const;
};

/// A low-passed, decimated piece of a record.
struct band_record {
    double first_s{0.0};  ///< time of the first value, from the origin given
    double rate_hz{0.0};
    band_edge band{};
    double noise_gain{0.0};  ///< white noise of 1 V in the record becomes this much here
    Eigen::VectorXd volts;

    [[nodiscard]] double time_s(Eigen::Index i) const {
        return first_s + static_cast<double>(i) / rate_hz;
    }
    [[nodiscard]] double last_s() const { return time_s(volts.size() - 1); }
};

/// Low-passes `volts` and keeps every `keep_every`-th value; only values whose whole impulse
/// response lies inside the record. Times count from `origin_s` of the record.
[[nodiscard]] band_record band_limited(std::span<const double> volts, double rate_hz,
                                       double origin_s, band_edge band, int keep_every);

}  // namespace cvrig::analysis::gliding
