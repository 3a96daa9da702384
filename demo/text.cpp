#include "demo/text.hpp"

#include "demo/user_mistake.hpp"

#include <charconv>
#include <cmath>
#include <sstream>

namespace ferrule {

std::pair<std::string, std::string> split_at_equals(std::string_view text) {
    const auto at = text.find('=');
    if (at == std::string_view::npos) return {std::string{text}, {}};
    return {std::string{text.substr(0, at)}, std::string{text.substr(at + 1)}};
}

std::vector<std::string> split_at_commas(std::string_view text) {
    std::vector<std::string> pieces;
    std::istringstream stream{std::string{text}};
    for (std::string piece; std::getline(stream, piece, ',');) pieces.push_back(piece);
    return pieces;
}

double number_of(std::string_view name, std::string_view value) {
    double number = 0.0;
    const auto [end, error] = std::from_chars(value.data(), value.data() + value.size(), number);
    if (error != std::errc{} || end != value.data() + value.size() || !std::isfinite(number)) {
        throw user_mistake("\"" + std::string{value} + "\" is not a number, but " +
                           std::string{name} + " needs one.");
    }
    return number;
}

double number_of(std::string_view name, std::string_view value, double low, double high) {
    const double number = number_of(name, value);
    if (number < low || number > high) {
        std::ostringstream text;
        text << name << " is " << value << ", but must lie from " << low << " to " << high << ".";
        throw user_mistake(text.str());
    }
    return number;
}

}  // namespace ferrule
