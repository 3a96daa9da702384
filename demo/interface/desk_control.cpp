#include "demo/interface/desk_control.hpp"

#include "demo/platform/stop_signals.hpp"
#include "demo/text.hpp"
#include "demo/user_mistake.hpp"

namespace ferrule {

void desk_control::act(std::string_view word, std::string_view rest) {
    if (word == "fault") {
        add_desk_fault(faults_, rest);
        desk_.set(faults_);
    } else if (word == "clear") {
        faults_ = {};
        desk_.set(faults_);
    } else if (word == "cables") {
        bay_.set_cables(rest);
    } else if (word == "back") {
        bay_.set_back(rest);
    } else if (word == "loop") {
        bay_.set_loop(rest);
    } else if (word == "plugged") {
        if (!bay_.mend()) throw user_mistake("An end of a cable is missing.");
    } else if (word == "freewheel" && (rest == "on" || rest == "off")) {
        jack_.freewheel(rest == "on");
    } else if (word == "stall") {
        stop_self(number_of("stall", rest, 0.0, 60.0));
    } else {
        throw user_mistake(
            "Say fault NAME:MAGNITUDE, clear, cables, back or loop FROM:TO, plugged, freewheel on "
            "or off, or stall SECONDS.");
    }
}

std::string desk_control::obey(std::string_view line) {
    const auto space = line.find(' ');
    try {
        act(line.substr(0, space), space == std::string_view::npos ? "" : line.substr(space + 1));
        return "ok";
    } catch (const user_mistake& mistake) {
        return std::string{"no: "} + mistake.what();
    }
}

}  // namespace ferrule
