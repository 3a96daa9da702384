#pragma once

#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <type_traits>
#include <vector>

#include "analysis/units.hpp"
#include "rig/expectations/calibration_rules.hpp"
#include "rig/expectations/check_spec.hpp"
#include "rig/expectations/place.hpp"
#include "rig/expectations/settings.hpp"
#include "rig/expectations/user_error.hpp"
#include "rig/expectations/value.hpp"

namespace cvrig {

/// Pitch against voltage: `reference` sounds at `at`, one octave up for each `per_octave`.
struct pitch_law {
    volts at{0.0};
    hertz reference{261.6255653005986};
    volts per_octave{1.0};

    [[nodiscard]] hertz pitch(volts v) const noexcept;
    [[nodiscard]] cents per_volt(volts v) const noexcept;  ///< the interval that `v` makes
};

/// A jack that the bench feeds. A gate-like jack has two levels, a CV jack a range.
struct driven_jack {
    std::string name;
    bool is_gate{false};
    volts low{0.0};   ///< gate low, or the lower end of the CV range
    volts high{0.0};  ///< gate high, or the upper end
    volts rest{0.0};  ///< held when no check says otherwise; gate-like jacks rest low
    place where;
};

/// The value of one key: the same for all choices, or by the value of one setting.
struct keyed_value {
    std::string setting;                    ///< empty: the same everywhere
    std::map<std::string, value> by_value;  ///< setting value -> value
    std::optional<value> otherwise;         ///< everywhere else
    place where;

    /// The value that holds for `choice`; null if the file says nothing for it.
    [[nodiscard]] const value* find(const setting_choice& choice) const;
};

/// A limit that follows a baseline, as it is for one choice of settings of this run.
struct resolved_limit {
    std::string key;
    setting_choice choice;
    limit allowed;
};

/// One check of the file: with which settings, and what is demanded.
struct check_expectation {
    std::string name;
    /// Every combination to be checked, in file order; each names every declared setting. A setting
    /// that the check does not name has its first value; a check without "in" has all combinations.
    std::vector<setting_choice> in;
    std::map<std::string, keyed_value> keys;
    place where;
    std::vector<resolved_limit> resolved{};  ///< they stand before what the file says

    /// The value of `key` for `choice` if it is there and holds a T.
    template <class T>
    [[nodiscard]] const T* find(std::string_view key, const setting_choice& choice) const {
        if constexpr (std::is_same_v<T, limit>)
            for (const auto& r : resolved)
                if (r.key == key && r.choice == choice) return &r.allowed;
        const auto found = keys.find(std::string{key});
        if (found == keys.end()) return nullptr;
        const value* v = found->second.find(choice);
        return v == nullptr ? nullptr : std::get_if<T>(v);
    }
};

/// A line to the module's console and the reply that is right: a regular expression (ECMAScript)
/// that must match a whole line. Without one, no reply is awaited.
struct dialogue_line {
    std::string send;
    std::optional<std::string> expect;
    place where;
};

/// How the module is spoken to; the same for every bench.
struct console_rules {
    std::optional<dialogue_line> identity;
    std::optional<dialogue_line> no_error;       ///< asked after each setting
    std::optional<dialogue_line> serial_number;  ///< the first captured text is the unit's own
    /// Asked between takes: the first captured text is a number, per cent of the processor's time or
    /// free bytes; with a unit if it is another.
    std::optional<dialogue_line> load, memory;
    std::optional<std::string> boot_banner;  ///< a line that matches means that it has just started
    seconds time_limit{1.0};                 ///< for a reply
    int retries{2};
    /// Of a flood beyond it in any second, not every line is believed to arrive; 80 bytes without a
    /// line end count as one. For USB: a UART of 115,200 baud carries no more than 150 such lines.
    double unasked_lines_per_second{1000.0};
};

/// How one output of the module is silenced, so that exchanged output cables can be told apart.
struct output_route {
    std::map<std::string, std::string> only;  ///< heard jack -> line that leaves only it sounding
    std::string all;                          ///< line that lets all sound again
    place where;
};

/// A whole expectation file.
struct module_expectations {
    std::string module;
    pitch_law pitch;
    std::vector<driven_jack> drive;
    std::vector<std::string> listen;
    place listen_where;  ///< of the list of recorded jacks
    std::vector<setting> settings;
    std::optional<console_rules> console;
    std::optional<output_route> routes;
    std::optional<calibration_rules> calibration;
    double coverage_factor{2.0};
    int retakes{2};
    std::vector<check_expectation> checks;
    std::string file;
    std::string sha256;  ///< of the file's bytes

    [[nodiscard]] const driven_jack* find_jack(std::string_view name) const;
};

/// Reads and validates an expectation file against the checks that exist.
///
/// Input:   YAML, at most 1 MiB; every key known; `known` lists the checks.
/// Refuses: throws user_error with all complaints of the file at once.
[[nodiscard]] module_expectations read_expectations(const std::string& file,
                                                    std::span<const check_spec> known);

}  // namespace cvrig
