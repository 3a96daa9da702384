#pragma once

#include <functional>
#include <map>
#include <stop_token>
#include <string>

#include "rig/bench/bench.hpp"
#include "rig/console/console.hpp"
#include "rig/expectations/calibration_rules.hpp"
#include "rig/run/live_setter.hpp"
#include "rig/run/voltage_source.hpp"

namespace cvrig {

/// What became of something that was done to the module.
struct act_result {
    enum class what {
        done,
        refused,     ///< the module, or the person who looked at it, says that it did not happen
        bench,       ///< it could not be done or looked at: no answer, no voltage
        needs_hand,  ///< nobody is there, or the person skipped it
        aborted      ///< the person ends it all
    };
    what became{what::done};
    std::string reason;  ///< one sentence unless done
    /// Done, and seen to be done: the module answered that it was, or a person saw it.
    bool is_seen{false};

    [[nodiscard]] bool is_done() const noexcept { return became == what::done; }
};

/// What acts on the module. All must outlive whoever uses it.
struct actor_parts {
    const module_expectations& module;
    const bench& desk;
    console* talks{nullptr};                  ///< null on a bench without one
    voltage_source* source{nullptr};          ///< null on a bench that cannot hold voltages
    operator_asked ask;                       ///< empty: unattended
    std::function<void(seconds)> wait;        ///< ends at a stop
    std::function<void(seconds)> wait_whole;  ///< also after a stop
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
    /// Whether it would be done by a line, which may get lost and can be sent again.
    [[nodiscard]] bool is_by_line(const calibration_act& act) const;

    /// Whether the module says now that an act was obeyed: asks its `then`.
    [[nodiscard]] act_result look(const calibration_act& act,
                                  const std::map<std::string, std::string>& names) const;

    /// Asks a line; the reply is not ok on a bench without a console.
    [[nodiscard]] console_reply ask(const line_pattern& line,
                                    const std::map<std::string, std::string>& names) const;

    void wait(seconds time) const { parts_.wait(time); }
    [[nodiscard]] bool talks() const noexcept { return parts_.talks != nullptr; }

private:
    act_result by_console(const calibration_act& act,
                          const std::map<std::string, std::string>& names) const;
    act_result by_pulse(const calibration_act& act, const std::map<std::string, std::string>& names,
                        const std::map<std::string, volts>& held);
    act_result by_hand(const calibration_act& act, const std::map<std::string, std::string>& names);
    [[nodiscard]] act_result obeyed(const calibration_act& act, const std::string& done,
                                    const std::map<std::string, std::string>& names) const;
    [[nodiscard]] bool can_pulse(const calibration_act& act) const;

    actor_parts parts_;
    int actions_{0};
};

}  // namespace cvrig
