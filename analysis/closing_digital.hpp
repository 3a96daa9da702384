#pragma once

#include "analysis/closing_search.hpp"

/// Whether a closing filter is a digital one (inside of measure_closing_filter).
namespace cvrig::analysis::closing_fit {

/// How far a filter made by the bilinear transform bends the frequencies: the square of 48 kHz over its
/// rate. 0 for an analogue filter, 0.25 at 96 kHz, 1 at 48 kHz. Far below the rate all that it bends
/// grows in proportion.
struct bend {
    double share{0.0}, u_share{0.0};  ///< its uncertainty from noise, and from what is likely
    double nepers_per_share{0.0};     ///< by which the time constant grows with it
    /// By how much the share moves with each harmonic's level at the source, where that is off by its
    /// uncertainty; in the order of frequency.
    std::vector<double> pulls{};
};

/// From what the harmonics depart from an analogue filter: what 48 kHz would change of their levels
/// once all else is fitted again, found in them. Each harmonic's level at the source is uncertain by
/// `relative_u_source`, at all moments alike. Where they say little, anything from an analogue filter to
/// one at 48 kHz is as likely. What has no poles does not bend. Refuses no_fit if the filter cannot be
/// found again in what 48 kHz would make of it.
[[nodiscard]] outcome<bend> bend_of(const scene& in_phase, const found_filter& found,
                                    double relative_u_source);

/// The same levels as a filter hears them that bends so far, exact at its resting pole.
[[nodiscard]] scene bent(scene s, const found_filter& found, double share);

/// How far each point lies from the filter, over its uncertainty.
[[nodiscard]] std::vector<double> departures(const scene& s, std::span<const double> parameters);

}  // namespace cvrig::analysis::closing_fit
