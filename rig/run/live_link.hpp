#pragma once

#include <functional>

#include "rig/console/console.hpp"
#include "rig/link/link.hpp"
#include "rig/run/setter.hpp"

namespace cvrig {

/// What stands between a run and a real module. All must outlive the link.
struct live_parts {
    link& plays;
    setter& sets;
    console* talks{nullptr};             ///< null on a bench without one
    std::optional<dialogue_line> alive;  ///< asked after each take; usually the rules' `no error`
    std::function<void()> stop_run;      ///< called when the operator ends the run
};

/// A link that sets the module before each take and keeps what its console says with the take.
///
/// A take that was skipped is not played. One whose settings failed is not played either, and has a
/// problem. If the module does not answer after the take, it is in doubt. A restart that nobody
/// asked for, since the take before, becomes a fault of the module.
class live_link : public link {
public:
    explicit live_link(live_parts parts);

    take play(const stimulus& s, const setting_choice& choice, int number, int attempt) override;
    [[nodiscard]] std::string description() const override;

    /// Once the link has lost its interface, or the module's console has left two takes in a row
    /// without an answer.
    [[nodiscard]] bool is_hopeless() const override;

private:
    void play_set(take& t);

    live_parts parts_;
    int silent_in_a_row_{0};
};

}  // namespace cvrig
