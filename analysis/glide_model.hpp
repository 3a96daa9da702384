#pragma once

#include <Eigen/Core>
#include <complex>
#include <kissfft/kissfft.hh>
#include <vector>

#include "analysis/glide_filter.hpp"
#include "analysis/glide_phase.hpp"
#include "analysis/glide_record.hpp"

namespace cvrig::analysis::gliding {

/// Everything about a voice that does not enter linearly.
struct voice_state {
    glide_law law;
    double decay_per_s{0.0};
    bool filtered{false};
    voice_filter filter{};

    [[nodiscard]] Eigen::Index places() const {
        return static_cast<Eigen::Index>(law_places) + 1 + (filtered ? voice_filter::places : 0);
    }
    [[nodiscard]] Eigen::VectorXd values() const;
    void set(const Eigen::VectorXd& values);
};

/// The part of a band record that is fitted, and the room around it in which the model runs in.
struct fit_window {
    double first_s{0.0};  ///< time of the first fitted value
    double rate_hz{0.0};
    Eigen::Index rows{0};
    band_edge band{};
    double run_in_s{0.0}, run_out_s{0.0};
    double mains_hz{50.0};
};

/// Harmonics locked to a phase law, filtered and band-limited exactly as the record was.
///
/// Each harmonic e^(j 2 pi k p(t)) e^(-d t) is made at the rate of the record, transformed,
/// multiplied by filter and band edge, and transformed back: exact for any fixed filter, ringing
/// included, where a gain that follows the pitch would not be.
class voice_model {
public:
    explicit voice_model(const fit_window& window);

    /// Columns for the linear part: cosine and sine of each harmonic, offset, hum.
    const Eigen::MatrixXd& columns(const voice_state& state);
    /// Derivatives of the fitted signal by voice_state::values, after columns() of that state.
    Eigen::MatrixXd derivatives(const voice_state& state, const Eigen::VectorXd& weights);
    /// s^j / D(s) of the fitted values themselves, j = 0 ... 4, with the state's filter D: what an
    /// equation error needs. The ends fade within `fade_s` and are of no use there.
    Eigen::MatrixXd data_slopes(const voice_state& state, const Eigen::VectorXd& rows,
                                double fade_s);
    /// Time of each row from the record's origin.
    [[nodiscard]] double time_s(Eigen::Index row) const;
    [[nodiscard]] const fit_window& window() const { return window_; }
    [[nodiscard]] Eigen::Index harmonics() const { return harmonics_; }

private:
    using complex = std::complex<double>;
    using spectrum = std::vector<complex>;

    void trace(const voice_state& state);
    void make_harmonics(const voice_state& state);
    [[nodiscard]] Eigen::MatrixXd slow_columns() const;
    /// The sum of the weighted harmonics before the filter, and its derivative by phase.
    void sum_harmonics(const Eigen::VectorXd& weights, spectrum& sum,
                       std::vector<double>& by_phase) const;
    void filter_slopes(const voice_state& state, const spectrum& sum, Eigen::MatrixXd& out);
    /// Two real signals at once, one in each part of `pair`, through filter and band edge.
    void filtered_pair(const spectrum& pair, Eigen::MatrixXd& out, Eigen::Index column);
    [[nodiscard]] double frequency_hz(std::size_t bin) const;
    [[nodiscard]] bool in_band(std::size_t bin) const;

    fit_window window_;
    Eigen::Index lead_;
    std::size_t size_;
    kissfft<double> forward_, backward_;
    std::vector<double> band_;         // band edge at each bin
    std::vector<double> run_in_;       // fades at both ends of the transform
    std::vector<phase_point> points_;  // along the transform
    spectrum response_;                // filter times band edge, with the transform's 1/size
    Eigen::MatrixXcd waves_;           // unfiltered harmonics along the transform
    Eigen::MatrixXd columns_;
    Eigen::MatrixXd slow_;  // offset and hum
    Eigen::Index harmonics_{0};
    spectrum work_, other_;
};

}  // namespace cvrig::analysis::gliding
