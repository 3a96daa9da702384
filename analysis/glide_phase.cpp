#include "analysis/glide_phase.hpp"

#include <algorithm>
#include <cmath>

namespace cvrig::analysis::gliding {

std::optional<glide_before> before_of(const std::optional<earlier_glide>& earlier) {
    if (!earlier) return std::nullopt;
    return glide_before{std::log(earlier->from.value()), earlier->since.value()};
}

double glide_law::from_hz() const {
    return std::exp(at[ln_from]);
}
double glide_law::to_hz() const {
    return std::exp(at[ln_to]);
}
double glide_law::tau_s() const {
    return std::exp(at[ln_tau]);
}

namespace {

/// (e^x - 1) / x and its derivative, both smooth through 0.
struct ramp_mean {
    double value;
    double slope;
};

ramp_mean mean_of_ramp(double x) {
    if (std::abs(x) < 1e-3)
        return {1 + x / 2 * (1 + x / 3 * (1 + x / 4)), 0.5 + x / 3 + x * x / 8 + x * x * x / 30};
    const double value = std::expm1(x) / x;
    return {value, (std::exp(x) - value) / x};
}

glide_law law_before(const glide_law& law) {
    return {law.shape,
            {law.before->ln_from, law.at[ln_from], law.at[ln_tau],
             law.start_s() - law.before->since_s}};
}

}  // namespace

phase_law::phase_law(const glide_law& law)
    : shape_{law.shape},
      from_{law.from_hz()},
      to_{law.to_hz()},
      tau_{law.tau_s()},
      start_{law.start_s()},
      step_{law.at[ln_from] - law.at[ln_to]} {
    if (law.before) follow(law);
    if (shape_ != glide_shape::exponential_in_volts) return;
    double term = 1.0;  // L^n / n!
    for (int n = 1; n < 80; ++n) {
        term *= step_ / n;
        series_.push_back(term / n);
        series_sum_ += term / n;
        if (std::abs(term) < 1e-17) break;
    }
}

phase_point phase_law::operator()(double t_s) const {
    if (!earlier_.empty() && t_s <= start_) {
        const auto e = earlier_.front()(t_s);
        return {e.cycles, e.pitch_hz, 1.0, {e.by[ln_to], 0.0, e.by[ln_tau], e.by[at_start]}};
    }
    switch (shape_) {
        case glide_shape::exponential_in_hertz:
            return after_earlier(in_hertz(t_s));
        case glide_shape::linear_in_volts:
            return after_earlier(as_ramp(t_s));
        case glide_shape::exponential_in_volts:
            break;
    }
    return after_earlier(in_volts(t_s));
}

void phase_law::follow(const glide_law& law) {
    earlier_.emplace_back(law_before(law));
    there_ = earlier_.front()(start_);
    set_off_ = set_off_from(law);
    from_ = there_.pitch_hz;
    step_ = std::log(from_ / to_);
}

phase_law::setting_off phase_law::set_off_from(const glide_law& law) const {
    const double taus = law.before->since_s / tau_;
    const double way = law.before->ln_from - law.at[ln_from];
    switch (shape_) {
        case glide_shape::exponential_in_hertz: {
            const double beyond_hz = std::exp(law.before->ln_from) - law.from_hz();
            return {law.from_hz() * (1 - there_.left) / there_.pitch_hz,
                    beyond_hz * there_.left * taus / there_.pitch_hz};
        }
        case glide_shape::linear_in_volts:
            return taus < 1 ? setting_off{taus, way * taus} : setting_off{};
        case glide_shape::exponential_in_volts:
            break;
    }
    return {1 - there_.left, way * there_.left * taus};
}

phase_point phase_law::after_earlier(phase_point own) const {
    if (earlier_.empty()) return own;
    const double by_set_off = own.by[ln_from] - from_ * start_;
    own.cycles += there_.cycles - from_ * start_;
    own.by[ln_from] = there_.by[ln_to] + by_set_off * set_off_.by_ln_from;
    own.by[ln_tau] += there_.by[ln_tau] + by_set_off * set_off_.by_ln_tau;
    own.by[at_start] += there_.by[at_start];
    return own;
}

double phase_law::cycles(double t_s) const {
    return (*this)(t_s).cycles;
}

phase_point phase_law::in_volts(double t_s) const {
    if (t_s <= start_) return {from_ * t_s, from_, 1.0, {from_ * t_s, 0.0, 0.0, 0.0}};
    const double u = t_s - start_;
    const double left = std::exp(-u / tau_);
    double tail = 0.0;
    for (auto c = series_.rbegin(); c != series_.rend(); ++c) tail = (tail + *c) * left;
    const double area = to_ * tau_ * (series_sum_ - tail);
    const double pitch = to_ * std::exp(step_ * left);
    // to * tau * S1 with S1 = (e^L - e^(L E)) / L: the derivative of the area by L.
    const double area_by_step =
        std::abs(step_) < 1e-7 ? to_ * tau_ * (1 - left) : tau_ * (from_ - pitch) / step_;
    return {from_ * start_ + to_ * u + area,
            pitch,
            left,
            {from_ * start_ + area_by_step, to_ * u + area - area_by_step, area - u * (pitch - to_),
             from_ - pitch}};
}

phase_point phase_law::in_hertz(double t_s) const {
    if (t_s <= start_) return {from_ * t_s, from_, 1.0, {from_ * t_s, 0.0, 0.0, 0.0}};
    const double u = t_s - start_;
    const double left = std::exp(-u / tau_);
    const double gone = tau_ * (1 - left);
    const double pitch = to_ + (from_ - to_) * left;
    return {from_ * start_ + to_ * u + (from_ - to_) * gone,
            pitch,
            left,
            {from_ * (start_ + gone), to_ * (u - gone), (from_ - to_) * (gone - u * left),
             from_ - pitch}};
}

phase_point phase_law::as_ramp(double t_s) const {
    if (t_s <= start_) return {from_ * t_s, from_, 1.0, {from_ * t_s, 0.0, 0.0, 0.0}};
    const double u = t_s - start_;
    const double w = std::min(u, tau_);
    const double x = -step_ * w / tau_;
    const auto [mean, slope] = mean_of_ramp(x);
    const double area = from_ * w * mean;
    const double area_by_step = from_ * w * slope * w / tau_;  // by ln(to / from)
    const double pitch = u < tau_ ? from_ * std::exp(x) : to_;
    const double by_ln_tau = u < tau_ ? -from_ * w * slope * x : area - to_ * tau_;
    return {from_ * start_ + area + to_ * (u - w),
            pitch,
            1 - w / tau_,
            {from_ * start_ + area - area_by_step, area_by_step + to_ * (u - w), by_ln_tau,
             from_ - pitch}};
}

}  // namespace cvrig::analysis::gliding
