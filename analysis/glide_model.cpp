#include "analysis/glide_model.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "analysis/fourier.hpp"

namespace cvrig::analysis::gliding {

using Eigen::Index;
using std::numbers::pi;

namespace {

constexpr Index law_count = static_cast<Index>(law_places);
/// Below this the band edge leaves nothing, and a filter need not be evaluated.
constexpr double nothing = 1e-12;

double raised_cosine(double x) {
    return x <= 0 ? 0.0 : x >= 1 ? 1.0 : 0.5 - 0.5 * std::cos(pi * x);
}

}  // namespace

Eigen::VectorXd voice_state::values() const {
    Eigen::VectorXd v(places());
    for (std::size_t k = 0; k < law_places; ++k) v[static_cast<Index>(k)] = law.at[k];
    v[law_count] = decay_per_s;
    if (!filtered) return v;
    v[law_count + 1] = filter.ln_h;
    for (std::size_t k = 0; k < filter.a.size(); ++k)
        v[law_count + 2 + static_cast<Index>(k)] = filter.a[k];
    return v;
}

void voice_state::set(const Eigen::VectorXd& v) {
    for (std::size_t k = 0; k < law_places; ++k) law.at[k] = v[static_cast<Index>(k)];
    decay_per_s = v[law_count];
    if (!filtered) return;
    filter.ln_h = std::max(-12.0, v[law_count + 1]);
    for (std::size_t k = 0; k < filter.a.size(); ++k)
        filter.a[k] = v[law_count + 2 + static_cast<Index>(k)];
}

voice_model::voice_model(const fit_window& window)
    : window_{window},
      lead_{static_cast<Index>(window.run_in_s * window.rate_hz)},
      size_{smooth_length_at_least(static_cast<std::size_t>(
          lead_ + window.rows + static_cast<Index>(window.run_out_s * window.rate_hz)))},
      forward_{size_, false},
      backward_{size_, true},
      band_(size_),
      run_in_(size_),
      points_(size_),
      response_(size_),
      work_(size_),
      other_(size_) {
    const double reach = window_.band.reach_s() * window_.rate_hz;
    const auto trail = static_cast<double>(size_) - static_cast<double>(lead_ + window_.rows);
    for (std::size_t i = 0; i < size_; ++i) {
        band_[i] = window_.band.response(frequency_hz(i)) / static_cast<double>(size_);
        const auto at = static_cast<double>(i);
        const double in = std::max(1.0, static_cast<double>(lead_) - reach);
        const double out = std::max(1.0, trail - reach);
        run_in_[i] =
            raised_cosine(at / in) * raised_cosine((static_cast<double>(size_) - at) / out);
    }
    slow_ = slow_columns();
}

double voice_model::frequency_hz(std::size_t bin) const {
    const auto i = static_cast<double>(bin);
    const auto n = static_cast<double>(size_);
    return (bin <= size_ / 2 ? i : i - n) * window_.rate_hz / n;
}

bool voice_model::in_band(std::size_t bin) const {
    return band_[bin] * static_cast<double>(size_) > nothing;
}

double voice_model::time_s(Index row) const {
    return window_.first_s + static_cast<double>(row) / window_.rate_hz;
}

void voice_model::trace(const voice_state& state) {
    const phase_law phase{state.law};
    for (std::size_t i = 0; i < size_; ++i)
        points_[i] = phase(time_s(static_cast<Index>(i) - lead_));
    for (std::size_t i = 0; i < size_; ++i) {
        response_[i] = band_[i];
        if (state.filtered && in_band(i)) response_[i] *= state.filter.response(frequency_hz(i));
    }
}

void voice_model::make_harmonics(const voice_state& state) {
    const double lowest = std::min(state.law.from_hz(), state.law.to_hz());
    const double top = window_.band.edge_hz + window_.band.width_hz;
    harmonics_ = std::max(Index{1}, static_cast<Index>(top / lowest));
    waves_.resize(static_cast<Index>(size_), harmonics_);
    for (std::size_t i = 0; i < size_; ++i) {
        const auto row = static_cast<Index>(i);
        const double t = time_s(row - lead_);
        const double angle = 2 * pi * (points_[i].cycles - std::floor(points_[i].cycles));
        const complex turn{std::cos(angle), std::sin(angle)};
        complex wave = run_in_[i] * std::exp(-state.decay_per_s * t) * turn;
        // Above the band a harmonic fades out before it could fold back into it.
        const double nyquist = window_.rate_hz / 2;
        for (Index k = 0; k < harmonics_; ++k) {
            const double f = static_cast<double>(k + 1) * points_[i].pitch_hz;
            const double over = (f - top) / (2 * (nyquist - top));
            waves_(row, k) = over <= 0 ? wave : wave * (1 - raised_cosine(over));
            wave *= turn;
        }
    }
}

const Eigen::MatrixXd& voice_model::columns(const voice_state& state) {
    trace(state);
    make_harmonics(state);
    columns_.resize(window_.rows, 2 * harmonics_ + slow_.cols());
    for (Index k = 0; k < harmonics_; ++k) {
        forward_.transform(waves_.col(k).data(), work_.data());
        for (std::size_t i = 0; i < size_; ++i) work_[i] *= response_[i];
        backward_.transform(work_.data(), other_.data());
        for (Index r = 0; r < window_.rows; ++r) {
            const complex v = other_[static_cast<std::size_t>(r + lead_)];
            columns_(r, 2 * k) = v.real();
            columns_(r, 2 * k + 1) = v.imag();
        }
    }
    columns_.rightCols(slow_.cols()) = slow_;
    return columns_;
}

Eigen::MatrixXd voice_model::slow_columns() const {
    Eigen::MatrixXd out = Eigen::MatrixXd::Ones(window_.rows, 7);
    for (Index r = 0; r < window_.rows; ++r)
        for (Index m = 1; m <= 3; ++m) {
            const double angle = 2 * pi * window_.mains_hz * static_cast<double>(m) * time_s(r);
            out(r, 2 * m - 1) = std::cos(angle);
            out(r, 2 * m) = std::sin(angle);
        }
    return out;
}

void voice_model::filtered_pair(const spectrum& pair, Eigen::MatrixXd& out, Index column) {
    forward_.transform(pair.data(), work_.data());
    for (std::size_t i = 0; i < size_; ++i) work_[i] *= response_[i];
    backward_.transform(work_.data(), other_.data());
    for (Index r = 0; r < window_.rows; ++r) {
        const complex v = other_[static_cast<std::size_t>(r + lead_)];
        out(r, column) = v.real();
        if (column + 1 < out.cols()) out(r, column + 1) = v.imag();
    }
}

void voice_model::sum_harmonics(const Eigen::VectorXd& weights, spectrum& sum,
                                std::vector<double>& by_phase) const {
    for (std::size_t i = 0; i < size_; ++i) {
        complex whole{}, turned{};
        for (Index k = 0; k < harmonics_; ++k) {
            // Weights multiply cosine and sine: w_c Re + w_s Im = Re((w_c - j w_s) wave).
            const complex part =
                complex{weights[2 * k], -weights[2 * k + 1]} * waves_(static_cast<Index>(i), k);
            whole += part;
            turned += static_cast<double>(k + 1) * part;
        }
        sum[i] = whole.real();
        by_phase[i] = -2 * pi * turned.imag();
    }
}

Eigen::MatrixXd voice_model::derivatives(const voice_state& state, const Eigen::VectorXd& weights) {
    Eigen::MatrixXd out(window_.rows, state.places());
    spectrum sum(size_), pair(size_);
    std::vector<double> by_phase(size_);
    sum_harmonics(weights, sum, by_phase);
    for (std::size_t i = 0; i < size_; ++i)
        pair[i] = by_phase[i] * complex{points_[i].by[ln_from], points_[i].by[ln_to]};
    filtered_pair(pair, out, ln_from);
    for (std::size_t i = 0; i < size_; ++i)
        pair[i] = by_phase[i] * complex{points_[i].by[ln_tau], points_[i].by[at_start]};
    filtered_pair(pair, out, ln_tau);
    for (std::size_t i = 0; i < size_; ++i)
        pair[i] = -time_s(static_cast<Index>(i) - lead_) * sum[i].real();
    filtered_pair(pair, out, law_count);
    if (state.filtered) filter_slopes(state, sum, out);
    return out;
}

void voice_model::filter_slopes(const voice_state& state, const spectrum& sum,
                                Eigen::MatrixXd& out) {
    spectrum whole(size_);
    forward_.transform(sum.data(), whole.data());
    std::vector<voice_filter::response_slope> slopes(size_);
    for (std::size_t i = 0; i < size_; ++i)
        if (in_band(i)) slopes[i] = state.filter.slope(frequency_hz(i));
    for (std::size_t p = 0; p < voice_filter::places; p += 2) {
        const bool two = p + 1 < voice_filter::places;
        for (std::size_t i = 0; i < size_; ++i) {
            const complex slope =
                two ? slopes[i][p] + complex{0, 1} * slopes[i][p + 1] : slopes[i][p];
            work_[i] = band_[i] * whole[i] * slope;
        }
        backward_.transform(work_.data(), other_.data());
        const Index column = law_count + 1 + static_cast<Index>(p);
        for (Index r = 0; r < window_.rows; ++r) {
            const complex v = other_[static_cast<std::size_t>(r + lead_)];
            out(r, column) = v.real();
            if (two) out(r, column + 1) = v.imag();
        }
    }
}

Eigen::MatrixXd voice_model::data_slopes(const voice_state& state, const Eigen::VectorXd& rows,
                                         double fade_s) {
    Eigen::MatrixXd out(window_.rows, 5);
    spectrum data(size_), whole(size_);
    const double fade = std::max(1.0, fade_s * window_.rate_hz);
    for (Index r = 0; r < rows.size(); ++r)
        data[static_cast<std::size_t>(r + lead_)] =
            rows[r] * raised_cosine(static_cast<double>(r) / fade) *
            raised_cosine(static_cast<double>(rows.size() - 1 - r) / fade);
    forward_.transform(data.data(), whole.data());
    for (auto& v : whole) v /= static_cast<double>(size_);
    for (std::size_t i = 0; i < size_; ++i)
        work_[i] = std::abs(frequency_hz(i)) > window_.band.edge_hz + window_.band.width_hz
                       ? complex{}
                       : whole[i] * state.filter.low_pass(frequency_hz(i));
    for (int power = 0; power <= 4; ++power) {
        if (power > 0)
            for (std::size_t i = 0; i < size_; ++i)
                work_[i] *= complex{0.0, frequency_hz(i) / state.filter.reference_hz};
        backward_.transform(work_.data(), other_.data());
        for (Index r = 0; r < window_.rows; ++r)
            out(r, power) = other_[static_cast<std::size_t>(r + lead_)].real();
    }
    return out;
}

}  // namespace cvrig::analysis::gliding
