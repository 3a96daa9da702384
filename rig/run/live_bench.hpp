#pragma once

#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <stop_token>
#include <string>
#include <vector>

#include "rig/bench/self_test.hpp"
#include "rig/console/console.hpp"
#include "rig/link/audio_link.hpp"
#include "rig/link/rt_audio_interface.hpp"
#include "rig/run/bench_session.hpp"
#include "rig/run/live_link.hpp"
#include "rig/run/live_setter.hpp"
#include "rig/run/patch_check.hpp"
#include "rig/run/played_voltages.hpp"

namespace cvrig {

/// What a live bench needs beside its files.
struct live_bench_options {
    std::map<std::string, std::string> substitutions;   ///< for {name} in the console's address
    std::vector<std::filesystem::path> search_folders;  ///< for a console that is a program
    operator_asked ask;                                 ///< empty: unattended
    std::stop_token stop;
    bool speaks_after_stop{false};   ///< the console goes on, to leave the module in good order
    std::function<void()> stop_run;  ///< called when the operator ends the run
    exchange_tap tap{};              ///< is told what plays and what comes back
};

/// A real module behind an audio interface, with its console and perhaps a person beside it.
///
/// It proves itself before it plays: over the loop-back cable, by the console's identity, and by
/// the module's own sound which cable leads where. What is not proven judges nothing: takes then
/// come back unplayed, with the reason.
class live_bench : public bench_session {
public:
    /// Opens the interface and the console; both objects must outlive it. Throws user_error with
    /// the place in the bench file for what cannot be opened.
    live_bench(const bench& b, const module_expectations& m, live_bench_options options);

    [[nodiscard]] run_plan ordered(run_plan plan,
                                   const std::optional<setting_choice>& now) const override;
    [[nodiscard]] bench_account prove(const run_plan& plan) override;
    [[nodiscard]] link& to_module() override;
    [[nodiscard]] console* talks() override { return console_.get(); }
    [[nodiscard]] voltage_source* voltages() override { return live_ ? &voltages_ : nullptr; }
    [[nodiscard]] operator_asked asks() const override { return options_.ask; }
    void forget_settings() override { setter_->forget_lines(); }
    [[nodiscard]] std::vector<std::string> unproven_jacks() const override {
        return unproven_jacks_;
    }
    [[nodiscard]] std::string description() const override;

private:
    void prove_loop(bench_account& account);
    void prove_console(bench_account& account);
    void prove_cables(bench_account& account, const setting_choice& first);
    void distrust(const std::string& why);
    [[nodiscard]] std::vector<volts> resting() const;

    const bench& bench_;
    const module_expectations& module_;
    live_bench_options options_;
    rt_audio_interface interface_;
    std::unique_ptr<console> console_;
    std::unique_ptr<live_setter> setter_;
    audio_link audio_;
    played_voltages voltages_;
    std::unique_ptr<live_link> live_;
    std::unique_ptr<link> refusing_;
    std::string distrust_;
    std::vector<std::string> unproven_jacks_;
};

/// How many actions a person would do for a plan on this bench.
[[nodiscard]] int planned_actions(const run_plan& plan, const module_expectations& m,
                                  const bench& b);

}  // namespace cvrig
