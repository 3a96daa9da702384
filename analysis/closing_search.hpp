#pragma once

#include <optional>
#include <vector>

#include "analysis/closing_model.hpp"

/// Finds the filter that suits best (inside of measure_closing_filter).
namespace cvrig::analysis::closing_fit {

/// A filter found, in the parameters of closing_model.hpp.
struct found_filter {
    nonlinear_fit fit;
    double half_power_z;

    [[nodiscard]] double open_octaves(double t_s) const {
        return fit.parameters[opened] * std::exp(-t_s / std::exp(fit.parameters[ln_tau]));
    }
    [[nodiscard]] double u(std::size_t parameter) const {
        return fit.standard_uncertainty(parameter);
    }
};

[[nodiscard]] octaves cutoff_at(const scene& s, double z_of_half_power, double open_octaves);

/// Least squares from a start, the phases as they are.
[[nodiscard]] outcome<nonlinear_fit> fit_from(const scene& s, const std::vector<double>& start);

/// The same with what the turning phases take away put back; empty where nothing fits.
[[nodiscard]] std::optional<found_filter> found_from(const scene& s,
                                                     const std::vector<double>& start);

/// The highest order that the harmonics tell.
[[nodiscard]] std::optional<found_filter> find_filter(const scene& s);

}  // namespace cvrig::analysis::closing_fit
