#pragma once

#include <functional>
#include <map>
#include <stop_token>
#include <string>

#include "rig/console/console.hpp"
#include "rig/expectations/calibration_rules.hpp"
#include "rig/run/live_setter.hpp"
#include "rig/run/voltage_source.hpp"

namespace cvrig {

/// What became of something that was done to the module.
struct act_result {
    enum class what {
        done,
        refused,    ///< the module, or the person who looked at it, says that it did not happen
        needs_hand  ///< nobody is there, or the person skipped or ended it
    };
    what became{what::done};
    std::string reason;  ///< one sentence unless done

    [[nodiscard]] bool is_done() const noexcept { return became == what::done; }
};

/// What acts on the module. All must outlive whoever uses it.
struct actor_parts {
    const module_expectations& module;
    console* talks{nullptr};          ///< null on a bench without one
    voltage_source* source{nullptr};  ///< null on a bench that cannot hold voltages
    operator_asked ask;               ///< empty: unattended
    std::function<void(seconds)> wait;
};

/// Does what the calibration of a module asks for, in the first way that this bench can: by console,
/// by a pulse at a jack, by a person.
class actor {
public:
    explicit actor(actor_parts parts) : parts_{std::move(parts)} {}

    /// `names` fill the holes of lines and instructions; `held` is what stands at the jacks.
    act_result perform(const calibration_act& act, const std::map<std::string, std::string>& names,
                       const std::map<std::string, volts>& held = {});

    /// Whether a bench with these parts can do it at all.
    [[nodiscard]] bool can(const calibration_act& act) const;

    /// Asks a line; the reply is not ok on a bench without a console.
    [[nodiscard]] console_reply ask(const line_pattern& line,
                                    const std::map<std::string, std::string>& names) const;

    void wait(seconds time) const { parts_.wait(time); }
    [[nodiscard]] bool talks() const noexcept { return parts_.talks != nullptr; }

private:
    act_result by_console(const calibration_act& act,
                          const std::map<std::string, std::string>& names) const;
    act_result by_pulse(const calibration_act& act, const std::map<std::string, std::string>& names,
                        std::map<std::string, volts> held);
    act_result by_hand(const calibration_act& act, const std::map<std::string, std::string>& names);
    [[nodiscard]] act_result obeyed(const calibration_act& act, const std::string& what,
                                    const std::map<std::string, std::string>& names) const;
    void forget_errors() const;

    actor_parts parts_;
    int actions_{0};
};

}  // namespace cvrig
