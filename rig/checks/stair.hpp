#pragma once

#include <optional>
#include <string>
#include <vector>

#include "analysis/outcome.hpp"
#include "rig/checks/check.hpp"

namespace cvrig {

/// One note of the tracking check's stair, as it was heard.
struct measured_note {
    volts at;
    bool upward;
    double time_s;       ///< since the passage began
    double error_cents;  ///< measured against demanded pitch
    double u_cents;      ///< of the estimator alone
    double settling_cents;
    double u_settling_cents;  ///< negative where the settling could not be told
};

struct measured_stair {
    std::vector<measured_note> notes;
    std::optional<analysis::refusal> refused;  ///< of the first note without a pitch
    std::string refused_at;
};

/// The stair that the file asks for. Each note's pitch comes with its gate, as a sequencer sends
/// it: a module that reads its gate and its pitch in the wrong order keeps the pitch before.
[[nodiscard]] passage stair_passage(const check_request& request);

/// Every note's pitch, and how its beginning differs from the rest of it.
[[nodiscard]] measured_stair measure_stair(const check_request& request,
                                           const heard_passage& heard);

[[nodiscard]] std::string name_of(const measured_note& n);

}  // namespace cvrig
