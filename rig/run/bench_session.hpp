#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rig/console/console.hpp"
#include "rig/link/link.hpp"
#include "rig/run/live_setter.hpp"
#include "rig/run/plan.hpp"
#include "rig/run/result.hpp"
#include "rig/run/voltage_source.hpp"

namespace cvrig {

/// A bench for as long as one run lasts.
class bench_session {
public:
    bench_session() = default;
    bench_session(const bench_session&) = delete;
    bench_session& operator=(const bench_session&) = delete;
    virtual ~bench_session() = default;

    /// The takes in the order that suits this bench; `now` is how the module is set, if known.
    [[nodiscard]] virtual run_plan ordered(run_plan plan,
                                           const std::optional<setting_choice>& now) const = 0;

    /// Proves the bench before anything is judged; empty where there is nothing to prove.
    [[nodiscard]] virtual bench_account prove(const run_plan& plan) = 0;

    /// Only after prove().
    [[nodiscard]] virtual link& to_module() = 0;
    /// Driven jacks of which nothing was heard: a missing cable, or a build that ignores them.
    [[nodiscard]] virtual std::vector<std::string> unproven_jacks() const { return {}; }
    /// The module's console for questions between takes; null where there is none, and before prove().
    [[nodiscard]] virtual console* talks() { return nullptr; }
    /// The same before prove(), for what must be known before anything plays: opened for it where it
    /// is not open yet. Throws user_error if it cannot be.
    [[nodiscard]] virtual console* early_talks() { return talks(); }
    /// Known voltages at the jacks between takes; null where the bench cannot hold any, and before
    /// prove().
    [[nodiscard]] virtual voltage_source* voltages() { return nullptr; }
    /// Whoever is asked to lend a hand on this bench; empty: nobody.
    [[nodiscard]] virtual operator_asked asks() const { return {}; }
    /// What the module was set to by console is no longer sure, as after a reset of its settings.
    virtual void forget_settings() {}
    [[nodiscard]] virtual std::string description() const = 0;
};

}  // namespace cvrig
