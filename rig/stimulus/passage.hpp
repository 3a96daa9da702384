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
struct step {
    seconds length{0.1};
    volts pitch{0.0};
    bool gate{false};
    bool accent{false};
    bool slide{false};
    std::map<std::string, volts> others{};  ///< any further CV jack, by name; the rest stay at rest

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
