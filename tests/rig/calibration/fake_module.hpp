#pragma once

#include <map>
#include <stop_token>
#include <string>
#include <vector>

#include "rig/calibration/procedure.hpp"
#include "rig/console/console.hpp"

/// A module that is calibrated, with a console, jacks and a button, all in the test's own process.
namespace cvrig::testing {

struct fake_module : console, voltage_source {
    // What it does wrong.
    int never_takes{0};  ///< this voltage
    bool stays{false};   ///< does not leave its calibration when it stores
    double load{0.0};    ///< share of the voltage that is lost at the jack
    double drift_volts{0.0};
    bool is_sensed{false};
    int unread{0};             ///< so many records of the sense have a gap
    bool is_mute{false};       ///< the console is there and says nothing
    int lags{0};               ///< so many questions after a press are answered as before it
    bool refuses_rest{false};  ///< the jacks do not go back to rest
    // What stops whoever calibrates it, after so many lines.
    std::stop_source stop;
    int stop_after_lines{-1};
    // What became of it.
    bool calibrating{false};
    int taken{0};
    bool stored{false};
    int presses{0};
    int told{-1};  ///< what it still says of how far it is
    std::map<std::string, volts> held;
    std::vector<double> taken_at_volts;
    std::vector<std::string> lines;

    void press() {
        ++presses;
        if (calibrating && taken + 1 != never_takes) {
            told = lags > 0 ? taken : -1;
            ++taken;
            taken_at_volts.push_back(held.contains("pitch") ? held["pitch"].value() : 0.0);
        }
    }

    console_reply ask(const dialogue_line& line) override {
        lines.push_back(line.send);
        if (static_cast<int>(lines.size()) == stop_after_lines) stop.request_stop();
        if (line.send == "begin") {
            calibrating = true;
            taken = 0;
        }
        if (line.send.starts_with("take")) press();
        if (line.send == "store" && taken == 3) {
            stored = true;
            calibrating = stays;
        }
        if (line.send == "leave") calibrating = false;
        std::string answer;
        if (is_mute) return {!line.expect.has_value(), {}, {}, "It does not answer.", true};
        if (line.send == "how far?") {
            answer = calibrating ? std::to_string(told >= 0 && lags > 0 ? told : taken) : "off";
            if (told >= 0 && lags > 0) --lags;
        }
        if (line.send.starts_with("saw?")) answer = "1.5";
        console_reply reply;
        reply.ok = !line.expect || *line.expect == answer || *line.expect == "(.*)";
        reply.line = answer;
        reply.captures = {answer};
        if (!reply.ok) reply.problem = "The module answers otherwise.";
        return reply;
    }
    void mark() override {}
    [[nodiscard]] console_record record() override { return {}; }
    void expect_reset() override {}
    [[nodiscard]] std::string description() const override { return "fake"; }

    std::string hold(const std::map<std::string, volts>& at) override {
        if (refuses_rest && at.empty()) return "The interface is gone.";
        const bool was_high = held.contains("gate") && held["gate"].value() > 2.0;
        held = at;
        if (!was_high && at.contains("gate") && at.at("gate").value() > 2.0) press();
        return {};
    }
    [[nodiscard]] bool has_sense(const std::string&) const override { return is_sensed; }
    [[nodiscard]] std::optional<sensed_voltage> sense(const std::string& jack) override {
        if (unread-- > 0) return std::nullopt;
        return sensed_voltage{volts{held[jack].value() * (1.0 - load)}, volts{0.0005},
                              volts{drift_volts}};
    }
    [[nodiscard]] bool is_real() const override { return true; }
};

}  // namespace cvrig::testing
