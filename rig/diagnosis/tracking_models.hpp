#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "rig/diagnosis/evidence.hpp"

namespace cvrig {

/// One note of a stair as a diagnosis sees it.
struct stair_point {
    double octaves;      ///< of the demanded pitch above the reference
    double volts_there;  ///< on the pitch jack
    double error_cents;
    double u_cents;
    double going_up;  ///< +1 if reached from below, -1 from above
};

/// What one cause would make of the stair's errors, and how well that fits.
struct stair_model {
    std::string cause;
    std::vector<double> numbers;     ///< fitted: offset, slope, ...
    std::vector<double> left_cents;  ///< error that it does not explain, note by note
    std::size_t free_numbers{0};     ///< how many were fitted or searched for
    double price{0.0};               ///< Schwarz's criterion: the lower the likelier
};

/// All causes that a stair can tell, each fitted by least squares; none for fewer than four notes.
[[nodiscard]] std::vector<stair_model> stair_models(const std::vector<stair_point>& stair);

}  // namespace cvrig
