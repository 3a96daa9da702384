#pragma once

#include <optional>
#include <string>
#include <vector>

#include "analysis/units.hpp"
#include "rig/expectations/place.hpp"
#include "rig/expectations/value.hpp"

namespace cvrig {

/// A voltage that a jack gets for a moment, as a press of a button would be on modules without one.
struct jack_pulse {
    std::string jack;
    volts to{5.0};
    seconds length{0.05};
};

/// A line that is sent and the reply that is right, with holes that are filled in when it is sent:
/// the {number} of the voltage, from 1, and its {volts}.
struct line_pattern {
    std::string send;
    std::optional<std::string> expect;
    place where;
};

/// One thing that is done to the module while it is calibrated, in every way that the file knows.
/// A bench uses the first that it can: a console line, a pulse, a person.
struct calibration_act {
    std::optional<std::string> console;  ///< line, with the holes of line_pattern
    std::optional<line_pattern> then;    ///< asked after the line or pulse: whether it was obeyed
    std::optional<jack_pulse> pulse;
    std::optional<std::string> operator_instruction;
    std::optional<std::string> shows;  ///< what a person sees if it was obeyed
    place where;
};

/// A table of corrections that a module adds to the volts it makes of a code, in straight lines between
/// its voltages and beyond them.
struct table_rules {
    std::vector<volts> at;  ///< rising
    std::optional<line_pattern>
        read;  ///< asks correction {number}, from 1; its first group is volts
    std::optional<std::string> write;  ///< line with {number} and {volts}
    place where;
};

/// The constants that a module computes pitch with: volts at the jack = offset + gain * code,
/// whatever its codes are.
struct constants_rules {
    std::optional<line_pattern>
        read;  ///< its first group is the offset in volts, its second the gain
    std::optional<std::string> write;  ///< line with {offset} and {gain}
    std::optional<table_rules> table;
    place where;
};

/// Something after which the constants must still be there.
struct constants_trial {
    std::string name;  ///< "power cycle", "settings reset", "re-flash"
    calibration_act act;
};

/// How a module is calibrated, and how well it must be afterwards.
struct calibration_rules {
    limit error;                  ///< of every note of the check tracking, afterwards
    limit kept;                   ///< how far pitch may move when something is survived
    std::vector<volts> voltages;  ///< at the pitch jack, in this order
    seconds settle{0.3};          ///< before each is confirmed
    std::optional<calibration_act> enter;
    calibration_act confirm;
    std::optional<line_pattern> seen;  ///< asks what the module made of a voltage: one number
    std::optional<calibration_act> store;
    std::optional<calibration_act> abandon;
    std::optional<line_pattern>
        is_over;  ///< its reply matches when the module is not being calibrated
    std::optional<constants_rules> constants;
    std::vector<constants_trial> survives;
    place where;
};

}  // namespace cvrig
