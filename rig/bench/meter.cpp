#include "rig/bench/meter.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <numbers>

#include "rig/expectations/dimension.hpp"
#include "rig/expectations/user_error.hpp"

namespace cvrig {

namespace {

constexpr double half_of_a_digit = 0.5;
constexpr double most_volts = 100.0;

std::string with_points(std::string_view text) {
    std::string out{text};
    std::ranges::replace(out, ',', '.');
    return out;
}

std::string_view trimmed(std::string_view text) {
    const auto first = text.find_first_not_of(" \t\r\n");
    if (first == std::string_view::npos) return {};
    return text.substr(first, text.find_last_not_of(" \t\r\n") - first + 1);
}

// The number before one of two words, and what follows it.
struct counted_steps {
    double digits;
    std::string_view rest;
};

std::optional<counted_steps> split_digits(std::string_view text) {
    for (const std::string_view word : {"digits", "digit", "counts", "count"}) {
        const auto at = text.find(word);
        if (at == std::string_view::npos) continue;
        const auto number = parse_measure(trimmed(text.substr(0, at)));
        auto rest = trimmed(text.substr(at + word.size()));
        if (!number || number->unit != dimension::ratio || !rest.starts_with("of "))
            return std::nullopt;
        return counted_steps{number->in_base_unit, trimmed(rest.substr(3))};
    }
    return std::nullopt;
}

[[noreturn]] void refuse(std::string_view text) {
    throw user_error{fmt::format(
        "'{}' is no meter accuracy; write what its data sheet says of the DC volts range, such as "
        "\"0.5 % + 2 digits of 1 mV\".",
        text)};
}

}  // namespace

volts meter_accuracy::greatest_error(volts reading) const noexcept {
    return volts{std::abs(reading.value()) * percent_of_reading / 100.0} + digits * resolution;
}

double meter_accuracy::u_scale_part() const noexcept {
    return percent_of_reading / 100.0 / std::numbers::sqrt3;
}

volts meter_accuracy::u_offset() const noexcept {
    return digits * resolution / std::numbers::sqrt3;
}

volts meter_accuracy::u_rounding() const noexcept {
    return half_of_a_digit * resolution / std::numbers::sqrt3;
}

meter_accuracy parse_meter(std::string_view given) {
    const auto text = with_points(given);
    const auto plus = text.find('+');
    if (plus == std::string::npos) refuse(given);
    const std::string_view whole{text};
    const measure nothing{0.0, dimension::count};
    const auto percent = parse_measure(trimmed(whole.substr(0, plus))).value_or(nothing);
    const auto steps = split_digits(trimmed(whole.substr(plus + 1)));
    if (!steps) refuse(given);
    const auto resolution = parse_measure(steps->rest).value_or(nothing);
    const bool sensible =
        percent.unit == dimension::percent && resolution.unit == dimension::volts &&
        percent.in_base_unit >= 0.0 && percent.in_base_unit <= 20.0 && steps->digits >= 0.0 &&
        steps->digits <= 1000.0 && resolution.in_base_unit > 0.0 && resolution.in_base_unit <= 1.0;
    if (!sensible) refuse(given);
    return {percent.in_base_unit, steps->digits, volts{resolution.in_base_unit},
            std::string{given}};
}

std::optional<volts> parse_meter_reading(std::string_view given) {
    const auto text = with_points(trimmed(given));
    const auto read = parse_measure(text);
    if (!read || (read->unit != dimension::volts && read->unit != dimension::ratio))
        return std::nullopt;
    if (std::abs(read->in_base_unit) > most_volts) return std::nullopt;
    return volts{read->in_base_unit};
}

}  // namespace cvrig
