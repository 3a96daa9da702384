#pragma once

#include <optional>
#include <stop_token>
#include <string>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/calibration/actor.hpp"

namespace cvrig {

/// One known voltage, as the module and the bench saw it.
struct calibrated_point {
    volts asked{0.0};
    std::optional<sensed_voltage> sensed;  ///< by an input of the bench that is wired to the jack
    std::optional<double> seen;            ///< the module's number for it, if it tells one
};

/// How the module's own procedure went.
struct procedure_result {
    enum class end {
        completed,  ///< every voltage was taken, and the constants were stored
        refused,    ///< the module did not go along
        bench,      ///< the bench cannot: no voltage, a loaded or moving one, nobody there
        stopped     ///< by whoever runs it
    };
    end how{end::completed};
    std::string stage;  ///< where it ended otherwise: "entering", "storing", "leaving"
    std::optional<std::size_t> stuck_at;  ///< the voltage that was not taken, from 1
    std::string reason;                   ///< one sentence unless completed
    std::vector<calibrated_point> points;
    /// Whether the module is out of calibration afterwards; unknown where it cannot be asked.
    std::optional<bool> is_out;
    bool was_begun{false};  ///< the module was told to enter its calibration, or given a voltage
    bool may_have_stored{false};  ///< not complete, but what stores the constants was done
    /// Every voltage was seen to be taken, by what the module answered or a person saw.
    bool is_seen{false};
    std::vector<std::string> notes;  ///< what else a reader should know, each a sentence

    [[nodiscard]] bool is_complete() const noexcept { return how == end::completed; }
};

/// What a stop in the middle left the module in, and what a person has to do about it.
[[nodiscard]] std::string what_a_stop_left(const procedure_result& procedure,
                                           const calibration_rules& rules);

/// Takes a module out of a calibration that somebody left in the middle: it may be silent in it, and
/// could then not even be found. What was done, one sentence; empty if there was nothing to do or
/// nobody can tell. Throws user_error if it does not leave.
[[nodiscard]] std::string leave_what_was_begun(const module_expectations& m, actor& acts);

/// Walks a module through its own calibration: enter, each voltage, store. However it ends, also by
/// an exception, the module is told to leave calibration, and the outputs rest again.
///
/// A voltage that an input of the bench sees must be what was asked within `k` standard
/// uncertainties, and must stay within a quarter of the wanted accuracy.
[[nodiscard]] procedure_result walk_procedure(const module_expectations& m, const bench& b,
                                              actor& acts, voltage_source& source,
                                              const std::stop_token& stop);

}  // namespace cvrig
