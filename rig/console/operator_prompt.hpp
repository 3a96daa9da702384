#pragma once

#include <stop_token>
#include <string>
#include <vector>

#include "rig/platform/line_input.hpp"

namespace cvrig {

/// One thing that a person is to do.
struct hand_action {
    std::string instruction;  ///< "Set the lower switch to tied"
    int number{1};            ///< of all actions of the run, from 1
    int of{0};                ///< how many were planned; more can come with retakes
};

/// What became of it.
struct hand_result {
    enum class what { done, skipped, aborted };
    what became{what::done};
    std::string reason;  ///< one sentence unless done
};

/// How the operator is reached.
struct operator_terminal {
    int in{0};
    int out{2};                         ///< beside the results, which go to standard output
    bool redraws{false};                ///< a progress line may stand there and is wiped first
    std::vector<std::string> cautions;  ///< shown once, before the first action
};

/// Asks a person at a terminal for one action at a time.
///
/// Enter means done; r shows the action again, s skips it, a ends the run. The end of the input
/// and a stop end the run as well. What was typed before an action is shown does not count.
class operator_prompt {
public:
    operator_prompt(operator_terminal where, std::stop_token stop);

    [[nodiscard]] hand_result ask(const hand_action& action);

private:
    void show(const hand_action& action) const;

    operator_terminal where_;
    std::stop_token stop_;
    line_input input_;
    bool warned_{false};
};

/// The cautions that belong to these instructions: none for switches and knobs; power for boards,
/// ribbons and jumpers; levels for patch cables.
[[nodiscard]] std::vector<std::string> cautions_for(const std::vector<std::string>& instructions);

}  // namespace cvrig
