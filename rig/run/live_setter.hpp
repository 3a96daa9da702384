#pragma once

#include <functional>
#include <optional>
#include <set>
#include <string>
#include <utility>

#include "rig/console/console.hpp"
#include "rig/console/operator_prompt.hpp"
#include "rig/run/setter.hpp"

namespace cvrig {

/// Asks the operator for one action. Empty: the run is unattended.
using operator_asked = std::function<hand_result(const hand_action&)>;

struct live_setter_options {
    operator_asked ask;
    /// Settings that a person has made before the run and vouches for.
    setting_choice made_before;
    /// How many actions the plan asks for (hand_work_of), to number them.
    int planned_actions{0};
};

/// The settings that have one value only; whoever prepares an unattended bench makes these once.
[[nodiscard]] setting_choice fixed_settings(const module_expectations& m);

/// The settings that the expectation file says the bench is prepared with.
[[nodiscard]] setting_choice prepared_settings(const module_expectations& m);

/// What is accepted as the reply to `confirm` after `to` was set: the value itself or, if no
/// other value of the setting has the same one, its short form; in either case, with or without
/// quotes. An expression for a dialogue_line.
///
/// Source: SCPI-99, volume 1, 6.2.1 (short form: the first four letters, or three if the word is
///         longer and the fourth is a vowel; from memory); character data are answered in short
///         form; IEEE 488.2-1992, 8.7.8 (quoted strings; number from memory).
[[nodiscard]] std::string reply_for(const std::string& to, const setting& s);

/// Sets a real module: settings with a console line by the console, the others by the operator.
///
/// After the console's line the value is asked for (`confirm`), then whether there was an error (`no
/// error`). What is set already is left alone; after a restart of the module, or when its console
/// has come back, everything that the console set is set again. What the operator skipped once is
/// not asked for again.
class live_setter : public setter {
public:
    /// `talks` is null on a bench without a console. All must outlive the setter.
    live_setter(const module_expectations& m, console* talks, live_setter_options options);

    /// What was set by console is unknown from now on, as after a reset of the settings.
    void forget_lines();

    set_result set(const setting_choice& next) override;

    /// How often the operator has acted so far.
    [[nodiscard]] int actions() const noexcept { return actions_; }

    /// How the module is set now, as far as that is known.
    [[nodiscard]] const setting_choice& known() const noexcept { return known_; }

private:
    [[nodiscard]] bool by_console(const setting& s) const;
    [[nodiscard]] bool is_known(const std::string& name, const std::string& to) const;
    set_result set_by_hand(const setting& s, const std::string& to);
    set_result set_by_lines(const setting_choice& next);
    set_result set_by_line(const setting& s, const std::string& to);
    [[nodiscard]] std::string tell(const setting& s, const std::string& to);

    const module_expectations& module_;
    console* console_;
    live_setter_options options_;
    setting_choice known_;
    std::set<std::pair<std::string, std::string>> refused_;
    std::optional<std::size_t> restarts_seen_;
    int actions_{0};
};

}  // namespace cvrig
