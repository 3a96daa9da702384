#include "rig/cli/session.hpp"

#include <algorithm>
#include <filesystem>
#include <optional>
#include <utility>

#include "rig/console/fill_in.hpp"
#include "rig/console/operator_prompt.hpp"
#include "rig/link/program_link.hpp"
#include "rig/platform/files.hpp"
#include "rig/platform/terminal.hpp"
#include "rig/run/by_facts.hpp"
#include "rig/run/live_bench.hpp"
#include "rig/run/order_takes.hpp"
#include "rig/run/told_voltages.hpp"

namespace cvrig {

namespace {

namespace fs = std::filesystem;

std::vector<std::string> calibration_instructions(const calibration_rules& rules) {
    std::vector<std::string> all;
    const auto add = [&](const std::optional<calibration_act>& act) {
        if (act && act->operator_instruction) all.push_back(*act->operator_instruction);
    };
    for (const auto* act : {&rules.enter, &rules.store, &rules.abandon}) add(*act);
    add(rules.confirm);
    for (const auto& what : rules.survives) add(what.act);
    return all;
}

/// Cautions for what a person will be asked to do.
std::vector<std::string> cautions_of(const run_arguments& a, const module_expectations& m,
                                     const bench& b) {
    std::vector<std::string> instructions;
    if (a.speaks && m.calibration) instructions = calibration_instructions(*m.calibration);
    for (const auto* s : hand_settings(m, b.console.has_value()))
        if (s->operator_instruction) instructions.push_back(*s->operator_instruction);
    return cautions_for(instructions);
}

/// One person for all of a session, who is asked at the terminal unless somebody else does that.
operator_asked person_at(const session_follower& follower, const run_arguments& a,
                         const module_expectations& m, const bench& b, std::stop_token stop) {
    if (follower.ask)
        return [ask = follower.ask, cautions = cautions_of(a, m, b)](const hand_action& action) {
            return ask(action, cautions);
        };
    auto prompt = std::make_shared<operator_prompt>(
        operator_terminal{.redraws = !a.quiet && error_is_terminal(),
                          .cautions = cautions_of(a, m, b)},
        std::move(stop));
    return [prompt](const hand_action& action) { return prompt->ask(action); };
}

class program_session : public bench_session {
public:
    program_session(const run_arguments& a, const bench& b, const module_expectations& m,
                    const session_follower& follower, std::stop_token stop)
        : link_{b.program,
                {.recorded = m.listen,
                 .substitutions = names_of(a),
                 .working_folder = working_.path(),
                 .search_folders = {a.program_folders.begin(), a.program_folders.end()},
                 .stop = stop}},
          bench_{b},
          module_{m},
          speaks_{a.speaks},
          ask_{a.speaks && !a.unattended ? person_at(follower, a, m, b, stop) : operator_asked{}},
          named_{named_console(a, b, m)},
          rules_{m.console.value_or(console_rules{})},
          stop_{a.speaks ? std::stop_token{} : std::move(stop)} {}

    [[nodiscard]] run_plan ordered(run_plan plan,
                                   const std::optional<setting_choice>&) const override {
        return plan;
    }
    [[nodiscard]] bench_account prove(const run_plan& plan) override {
        if (speaks_ || judges_by_facts(plan, "console")) static_cast<void>(early_talks());
        if (console_ && !bench_.program.hold.empty())
            voltages_ = std::make_unique<told_voltages>(bench_, module_, *console_);
        return {};
    }
    [[nodiscard]] link& to_module() override { return link_; }
    [[nodiscard]] console* talks() override { return console_.get(); }
    [[nodiscard]] console* early_talks() override {
        if (named_ && !console_) console_ = open_console(*named_, rules_, stop_);
        return console_.get();
    }
    [[nodiscard]] voltage_source* voltages() override { return voltages_.get(); }
    [[nodiscard]] operator_asked asks() const override { return ask_; }
    [[nodiscard]] std::string description() const override { return link_.description(); }

private:
    /// Only where it is needed, so that other runs need give no names for its address.
    static std::optional<console_settings> named_console(const run_arguments& a, const bench& b,
                                                         const module_expectations& m) {
        const bool judged =
            std::ranges::find(m.checks, "console", &check_expectation::name) != m.checks.end();
        const bool can_tell_unit = m.console && m.console->serial_number;
        if (a.speaks || judged || (can_tell_unit && !a.runs_folder.empty()))
            return named_as_in(a, b).console;
        if (!can_tell_unit || !a.unit.empty()) return std::nullopt;
        try {
            return named_as_in(a, b).console;
        } catch (const user_error&) {
            return std::nullopt;  // without the names for its address the unit stays unnamed
        }
    }

    temporary_folder working_;
    program_link link_;
    const bench& bench_;
    const module_expectations& module_;
    bool speaks_;
    operator_asked ask_;
    std::optional<console_settings> named_;
    console_rules rules_;
    std::stop_token stop_;
    std::unique_ptr<console> console_;
    std::unique_ptr<told_voltages> voltages_;
};

live_bench_options options_of(const run_arguments& a, const bench& b, const module_expectations& m,
                              const interrupts& stop, const session_follower& follower) {
    live_bench_options options;
    options.tap = follower.tap;
    options.substitutions = names_of(a);
    options.search_folders = {a.program_folders.begin(), a.program_folders.end()};
    options.stop = stop.token();
    options.speaks_after_stop = a.speaks;
    options.stop_run = [&stop] { stop.request(); };
    if (a.unattended) return options;
    options.ask = person_at(follower, a, m, b, stop.token());
    return options;
}

}  // namespace

std::map<std::string, std::string> names_of(const run_arguments& a) {
    auto out = a.with;
    if (!a.image.empty()) out["image"] = fs::absolute(a.image).string();
    if (!a.unit.empty()) out["unit"] = a.unit;
    return out;
}

bench named_as_in(const run_arguments& a, bench b) {
    const std::vector<fs::path> folders{a.program_folders.begin(), a.program_folders.end()};
    if (b.console) b.console = filled_in(*b.console, names_of(a), folders);
    return b;
}

std::unique_ptr<bench_session> open_session(const run_arguments& a, const bench& b,
                                            const module_expectations& m, const interrupts& stop,
                                            const session_follower& follower) {
    if (!b.audio) return std::make_unique<program_session>(a, b, m, follower, stop.token());
    return std::make_unique<live_bench>(b, m, options_of(a, b, m, stop, follower));
}

}  // namespace cvrig
