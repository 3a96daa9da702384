#include "rig/expectations/quantity.hpp"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <limits>
#include <vector>

#include "rig/expectations/nearest.hpp"
#include "rig/expectations/note_name.hpp"
#include "rig/expectations/unit_table.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

std::string_view trimmed(std::string_view text) {
    const auto first = text.find_first_not_of(" \t\r\n");
    if (first == std::string_view::npos) return {};
    return text.substr(first, text.find_last_not_of(" \t\r\n") - first + 1);
}

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

/// std::from_chars also reads "inf" and "nan", which are no numbers here.
bool starts_a_number(std::string_view text) {
    if (!text.empty() && text.front() == '-') text.remove_prefix(1);
    if (!text.empty() && text.front() == '.') text.remove_prefix(1);
    return !text.empty() && is_digit(text.front());
}

std::string unknown_unit(std::string_view text, std::string_view unit, dimension d) {
    std::vector<std::string> names;
    for (const auto& u : known_units()) {
        if (u.of == d && !u.name.empty()) names.emplace_back(u.name);
    }
    const auto close = nearest(unit, names);
    return fmt::format("{} has an unknown unit{}", quoted(text),
                       close ? fmt::format(" (did you mean {}?)", quoted(*close)) : "");
}

bool plain_number_wanted(dimension d) {
    return d == dimension::ratio || d == dimension::count;
}

std::string no_number(std::string_view text, dimension d) {
    if (text.empty()) return "Here is no number";
    if (plain_number_wanted(d)) return fmt::format("{} is not a number", quoted(text));
    return fmt::format("{} is not {}a number with a unit", quoted(text),
                       d == dimension::hertz ? "a note or " : "");
}

/// "0,3 %" is how half the world writes 0.3 %.
bool has_decimal_comma(const numbered& n) {
    return n.rest.size() > 1 && n.rest[0] == ',' && is_digit(n.rest[1]);
}

parsed<double> converted(std::string_view text, const numbered& n, const wanted& want) {
    const auto fail = [&](const std::string& wrong) {
        return tl::unexpected{fmt::format("{}, but {}.", wrong, what_is_wanted(want))};
    };
    if (has_decimal_comma(n)) return fail(fmt::format("{} has a decimal comma", quoted(text)));
    const auto* unit = find_unit(n.rest);
    if (unit == nullptr) return fail(unknown_unit(text, n.rest, want.unit));
    const double v = n.number * unit->base_units + unit->offset;
    if (!std::isfinite(v)) return fail(fmt::format("{} is out of range", quoted(text)));
    if (plain_number_wanted(want.unit) && plain_number_wanted(unit->of)) return v;
    if (n.rest.empty()) return fail(fmt::format("{} has no unit", quoted(text)));
    if (unit->of != want.unit) {
        return fail(fmt::format("{} is {}", quoted(text), in_words(unit->of)));
    }
    return v;
}

}  // namespace

std::optional<numbered> split_number(std::string_view text) {
    text = trimmed(text);
    if (text.size() > 1 && text[0] == '+' && text[1] != '-') text.remove_prefix(1);
    if (!starts_a_number(text)) return std::nullopt;
    double number = 0.0;
    const auto read = std::from_chars(text.data(), text.data() + text.size(), number);
    if (read.ec == std::errc::result_out_of_range) number = std::numeric_limits<double>::infinity();
    const auto used = static_cast<std::size_t>(read.ptr - text.data());
    return numbered{number, trimmed(text.substr(used))};
}

std::string what_is_wanted(const wanted& want) {
    const auto example =
        want.example.empty() ? std::string{example_quantity(want.unit)} : want.example;
    return fmt::format("{} wants {}, such as '{}'", quoted(want.key), in_words(want.unit), example);
}

parsed<double> parse_quantity(std::string_view text, const wanted& want) {
    text = trimmed(text);
    if (const auto note = note_frequency(text)) {
        if (want.unit == dimension::hertz) return note->value();
        return tl::unexpected{
            fmt::format("{} is a note, but {}.", quoted(text), what_is_wanted(want))};
    }
    const auto n = split_number(text);
    if (!n) {
        return tl::unexpected{
            fmt::format("{}, but {}.", no_number(text, want.unit), what_is_wanted(want))};
    }
    return converted(text, *n, want);
}

std::optional<measure> parse_measure(std::string_view text) {
    text = trimmed(text);
    if (const auto note = note_frequency(text)) return measure{note->value(), dimension::hertz};
    const auto n = split_number(text);
    const auto* unit = n ? find_unit(n->rest) : nullptr;
    if (unit == nullptr) return std::nullopt;
    const double v = n->number * unit->base_units + unit->offset;
    if (!std::isfinite(v)) return std::nullopt;
    return measure{v, unit->of};
}

std::optional<std::pair<std::string, std::string>> split_pair(std::string_view text,
                                                              std::string_view separator) {
    const auto at = text.find(separator);
    if (at == std::string_view::npos) return std::nullopt;
    std::string left{trimmed(text.substr(0, at))};
    std::string right{trimmed(text.substr(at + separator.size()))};
    const auto l = split_number(left);
    const auto r = split_number(right);
    if (l && r && l->rest.empty() && !r->rest.empty()) left.append(" ").append(r->rest);
    return std::pair{std::move(left), std::move(right)};
}

std::string_view example_limit(dimension d) noexcept {
    switch (d) {
        case dimension::volts:
            return "within 10 mV";
        case dimension::hertz:
            return "at least 200 Hz";
        case dimension::seconds:
            return "22 ms within 10 %";
        case dimension::cents:
            return "within 5 cent";
        case dimension::decibels:
            return "between 3 dB and 8 dB";
        case dimension::dbu:
            return "between 10 dBu and 14 dBu";
        case dimension::percent:
            return "within 0.3 %";
        case dimension::bytes:
            return "at most 120 KiB";
        case dimension::count:
            return "at most 3";
        case dimension::ratio:
            return "at least 0.9";
    }
    return "";
}

std::string_view example_quantity(dimension d) noexcept {
    switch (d) {
        case dimension::volts:
            return "0.5 V";
        case dimension::hertz:
            return "440 Hz";
        case dimension::seconds:
            return "20 ms";
        case dimension::cents:
            return "5 cent";
        case dimension::decibels:
            return "6 dB";
        case dimension::dbu:
            return "4 dBu";
        case dimension::percent:
            return "0.5 %";
        case dimension::bytes:
            return "64 KiB";
        case dimension::count:
            return "3";
        case dimension::ratio:
            return "0.9";
    }
    return "";
}

}  // namespace cvrig
