#include "demo/console/parameter.hpp"

#include "demo/console/instrument.hpp"
#include "demo/console/mnemonic.hpp"

#include <charconv>
#include <cmath>
#include <iomanip>
#include <locale>
#include <optional>
#include <sstream>

namespace ferrule {
namespace {

std::optional<double> whole_number(std::string_view digits, int base) {
    long long value = 0;
    const auto* const end = digits.data() + digits.size();
    const auto [stop, error] = std::from_chars(digits.data(), end, value, base);
    if (error != std::errc{} || stop != end || digits.starts_with('-')) return std::nullopt;
    return static_cast<double>(value);
}

std::optional<double> decimal_number(std::string_view text) {
    if (text.starts_with('+')) text.remove_prefix(1);
    double value = 0.0;
    const auto* const end = text.data() + text.size();
    const auto [stop, error] = std::from_chars(text.data(), end, value);
    if (error != std::errc{} || stop != end || !std::isfinite(value)) return std::nullopt;
    return value;
}

std::optional<double> any_number(std::string_view text) {
    if (!text.starts_with('#') || text.size() < 3) return decimal_number(text);
    switch (text[1]) {
        case 'H':
        case 'h':
            return whole_number(text.substr(2), 16);
        case 'Q':
        case 'q':
            return whole_number(text.substr(2), 8);
        case 'B':
        case 'b':
            return whole_number(text.substr(2), 2);
        default:
            return std::nullopt;
    }
}

}  // namespace

double number_parameter(std::string_view text, double low, double high) {
    const auto value = any_number(text);
    if (!value) throw command_error(scpi::data_type_error, std::string{text} + " is no number");
    if (*value < low || *value > high) {
        throw command_error(scpi::data_out_of_range,
                            number_answer(low) + " to " + number_answer(high));
    }
    return *value;
}

std::size_t word_parameter(std::string_view text, std::span<const std::string_view> mnemonics) {
    std::string known;
    for (std::size_t i = 0; i < mnemonics.size(); ++i) {
        if (is_mnemonic(mnemonics[i], text)) return i;
        known += (i == 0 ? "" : " or ") + std::string{mnemonics[i]};
    }
    throw command_error(scpi::illegal_parameter_value, known);
}

std::string string_parameter(std::string_view text) {
    const bool quoted = text.size() >= 2 && (text.front() == '"' || text.front() == '\'') &&
                        text.back() == text.front();
    if (!quoted) throw command_error(scpi::data_type_error, "a string stands between quotes");
    std::string inside;
    for (std::size_t i = 1; i + 1 < text.size(); ++i) {
        inside += text[i];
        if (text[i] == text.front()) ++i;
    }
    return inside;
}

std::string number_answer(double value) {
    std::ostringstream out;
    out.imbue(std::locale::classic());
    out << std::setprecision(12) << value;
    return out.str();
}

}  // namespace ferrule
