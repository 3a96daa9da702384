#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "analysis/units.hpp"
#include "rig/expectations/dimension.hpp"

namespace cvrig {

/// How a limit follows the reading of an approved run: "within 2 cent of baseline", "at most 1 dB
/// above baseline".
struct baseline_demand {
    /// In the unit of the reading, in per cent of it, or, of a frequency, in cents.
    enum class scale { of_unit, of_percent, of_cents };

    double tolerance{0.0};
    scale in{scale::of_unit};
    bool limits_above{true}, limits_below{true};
    /// Of the baseline's reading. Empty: there is none yet, and nothing can be judged by the limit.
    std::optional<double> standard_uncertainty{};
};

/// A tolerance interval in the base unit of its dimension; a missing side is unlimited.
/// "within 5 cent" is [-5, 5]; "22 ms within 10 %" is [19.8, 24.2] ms with nominal 22 ms;
/// "between 3 dB and 8 dB", "at most 1 cent", "at least -60 dB" as they read.
struct limit {
    std::optional<double> lower;
    std::optional<double> upper;
    std::optional<double> nominal;
    dimension unit{dimension::ratio};
    std::string text;  ///< as the file says it
    std::optional<baseline_demand> of_baseline{};

    /// It follows a baseline that is not known: lower and upper say nothing.
    [[nodiscard]] bool lacks_baseline() const noexcept {
        return of_baseline && !of_baseline->standard_uncertainty;
    }
};

/// One of a fixed list of answers: "goes on", "exponential in volts".
struct word {
    std::string text;
};

/// A stair of notes over a voltage range.
struct note_stair {
    enum class direction { up, down, up_and_down };
    volts from, to, every;
    direction order{direction::up_and_down};
};

/// One change of the pitch voltage: "0 V to 1 V".
struct voltage_step {
    volts from, to;
};

/// A stretch of the processor's memory, and how much of it a build may take.
struct memory_region {
    std::string name;  ///< "flash", "RAM"
    std::uint64_t from{0};
    std::uint64_t size{0};
    limit used;  ///< in bytes or in per cent of the size
};

/// A regular expression that a whole text must match.
struct text_pattern {
    std::string text;
};

/// The name of a declared setting.
struct setting_name {
    std::string text;
};

/// What a key of a check may hold.
using value = std::variant<limit, word, measure, note_stair, std::vector<voltage_step>,
                           std::vector<memory_region>, text_pattern, setting_name>;

}  // namespace cvrig
