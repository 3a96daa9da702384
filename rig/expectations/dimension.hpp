#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace cvrig {

#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wshadow"  // g++ 12 takes scoped enumerators for shadowing types
/// What a number in a file, a limit or a reading measures. Numbers of a dimension are kept in its
/// base unit: volts, hertz, seconds, cents, decibels, dBu, per cent, bytes, or a plain count or ratio.
enum class dimension { volts, hertz, seconds, cents, decibels, dbu, percent, bytes, count, ratio };
#pragma GCC diagnostic pop

/// The base unit as printed: "V", "Hz", "s", "cent", "dB", "dBu", "%", "B", "" (count and ratio).
[[nodiscard]] std::string_view base_unit(dimension d) noexcept;

/// The dimension in words, for messages: "a voltage", "a time", "an interval in cents", ...
[[nodiscard]] std::string_view in_words(dimension d) noexcept;

/// A number in the base unit, shown with a prefix that reads well and with `digits` significant
/// digits: show(0.022, seconds) is "22 ms", show(-0.0012, volts) is "-1.2 mV".
[[nodiscard]] std::string show(double in_base_unit, dimension d, int digits = 4);

/// A number and its standard uncertainty, rounded to the same decimal place, the uncertainty to two
/// digits (JCGM 100:2008, 7.2.6): "22.013 ms ± 0.024 ms".
[[nodiscard]] std::string show(double in_base_unit, double standard_uncertainty, dimension d);

/// A number read from text such as "22 ms", "-0.1 V", "5 cent", "1 semitone", "48 kHz", "C2" (a
/// note name is a frequency, A4 = 440 Hz).
struct measure {
    double in_base_unit;
    dimension unit;
};

/// Reads one quantity with its unit; a number alone is a plain ratio. Empty if `text` is not a
/// number followed by a known unit.
[[nodiscard]] std::optional<measure> parse_measure(std::string_view text);

}  // namespace cvrig
