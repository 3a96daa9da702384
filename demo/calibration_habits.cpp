#include "demo/calibration_habits.hpp"

#include "demo/calibration_mode.hpp"
#include "demo/text.hpp"
#include "demo/user_mistake.hpp"

#include <string>

namespace ferrule {
namespace {

/// "scale 0.1" -> "0.1"; nothing if the text begins otherwise.
std::optional<std::string> after(std::string_view word, std::string_view text) {
    if (!text.starts_with(word)) return std::nullopt;
    return std::string{text.substr(word.size())};
}

}  // namespace

void read_calibration_habit(calibration_habits& into, std::string_view text) {
    constexpr double most_scale = 1000.0;
    constexpr std::string_view percent = " percent";
    if (text == "forgets") {
        into.forgets = true;
    } else if (text == "wrong sign") {
        into.wrong_sign = true;
    } else if (text == "reset wipes") {
        into.reset_wipes = true;
    } else if (const auto scale = after("scale ", text)) {
        into.scale = number_of("scale", *scale, 0.0, most_scale);
    } else if (const auto share = after("hasty ", text); share && share->ends_with(percent)) {
        const auto number = share->substr(0, share->size() - percent.size());
        into.hasty_share = number_of("hasty", number, 0.0, 100.0) / 100.0;
    } else if (const auto point = after("stuck at ", text)) {
        into.stuck_at = static_cast<std::size_t>(
            number_of("stuck at", *point, 1.0, static_cast<double>(calibration_mode::points)));
    } else {
        throw user_mistake("\"" + std::string{text} +
                           "\" is nothing that a calibration can do wrong; it is one of forgets, "
                           "wrong sign, scale N, reset wipes, hasty N percent and stuck at N.");
    }
}

}  // namespace ferrule
