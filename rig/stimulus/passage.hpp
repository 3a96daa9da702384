#pragma once

#include <map>
#include <string>
#include <vector>

#include "analysis/units.hpp"
#include "rig/expectations/settings.hpp"

namespace cvrig {

/// One note of a pattern: what every jack holds for a time.
///
/// Two steps in a row with `gate` are tied: the gate stays high between them. A module without a
/// slide jack slides by its own rule, for example while the gate stays high; `slide` then only
/// tells the reader what is meant.
///
/// `others` sets any further CV jack; a gate-like jack that is named there holds that voltage
/// instead of its low or high level, between which the module must decide. A jack that is named in
/// `from` moves in a straight line from there to what it would otherwise hold, which it reaches
/// with the step's last sample.
struct step {
    seconds length{0.1};
    volts pitch{0.0};
    bool gate{false};
    bool accent{false};
    bool slide{false};
    std::map<std::string, volts> others{};  ///< by jack; the rest stay at rest
    std::map<std::string, volts> from{};    ///< by jack: where its way through the step begins

    friend bool operator==(const step&, const step&) = default;
};

/// Steps that a check wants played without a break.
struct passage {
    std::string check;
    std::vector<step> steps;
    std::string purpose;  ///< one phrase for logs and reports
    setting_choice choice;
};

}  // namespace cvrig
