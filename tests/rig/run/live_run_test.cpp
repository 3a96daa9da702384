// The parts of a live run together: a real console, a real setter, a pretended bench.
#include <catch2/catch.hpp>
#include <map>
#include <mutex>

#include "rig/console/console.hpp"
#include "rig/platform/files.hpp"
#include "rig/run/live_link.hpp"
#include "rig/run/live_setter.hpp"
#include "rig/run/order_takes.hpp"
#include "rig/run/runner.hpp"
#include "tests/rig/console/fake_module.hpp"
#include "tests/rig/simple_module.hpp"

using namespace cvrig;
using namespace cvrig::testing;

namespace {

/// A module that remembers its mode until it restarts.
class remembering_module {
public:
    std::string operator()(const std::string& line) {
        const std::lock_guard lock{mutex_};
        if (line == "SYSTem:ERRor?") return "0,\"No error\"\n";
        if (line == "VOICe:MODE?") return mode_ + "\n";
        if (line.starts_with("VOICe:MODE ")) mode_ = line.substr(11);
        return {};
    }
    void restart() {
        const std::lock_guard lock{mutex_};
        mode_ = "TIED";
    }
    [[nodiscard]] std::string mode() const {
        const std::lock_guard lock{mutex_};
        return mode_;
    }

private:
    mutable std::mutex mutex_;
    std::string mode_{"TIED"};
};

module_expectations expectations() {
    auto m = simple_expectations();
    setting mode;
    mode.name = "mode";
    mode.values = {"tied", "wide"};
    mode.console = "VOICe:MODE {value}";
    mode.confirm = "VOICe:MODE?";
    setting knob;
    knob.name = "knob";
    knob.values = {"down", "up"};
    m.settings = {mode, knob};
    m.console.emplace();
    m.console->no_error = dialogue_line{"SYSTem:ERRor?", "[+]?0,.*", {}};
    m.console->boot_banner = "Ferrule .* ready";
    m.console->time_limit = seconds{2.0};
    check_expectation level;
    level.name = "level";
    for (const auto* k : {"down", "up"})
        for (const auto* v : {"tied", "wide"}) level.in.push_back({{"mode", v}, {"knob", k}});
    level.keys["level"] = everywhere(between(-10.0, 10.0, dimension::dbu));
    m.checks = {level};
    m.retakes = 1;
    return m;
}

/// A live bench with a pretended module on it.
struct live_bench {
    module_expectations m{expectations()};
    bench b{simple_bench()};
    temporary_folder folder;
    remembering_module memory;
    terminal_module wire{folder.path() / "tty",
                         [this](const std::string& line) { return memory(line); }};
    std::unique_ptr<console> talks;
    simple_module sound;
    simple_link plays{sound};
    std::vector<std::string> modes;  ///< of the module, take by take

    live_bench() {
        console_settings how;
        how.how = console_settings::way::terminal;
        how.path = (folder.path() / "tty").string();
        talks = open_console(how, *m.console, {});
    }

    run_outcome run_with(live_setter_options options) {
        auto plan = order_takes(plan_run(m, b), m, true);
        live_setter sets{m, talks.get(), std::move(options)};
        live_link to_module{{.plays = plays,
                             .sets = sets,
                             .talks = talks.get(),
                             .alive = m.console->no_error,
                             .stop_run = {}}};
        const auto spoil = sound.spoil;
        sound.spoil = [this, spoil](take& t) {
            modes.push_back(memory.mode());
            if (spoil) spoil(t);
        };
        run_watch watch;
        watch.order = [this](run_plan again, const setting_choice& now) {
            return order_takes(std::move(again), m, true, now);
        };
        return run(plan, to_module, m, b, watch);
    }
};

/// What each take's console said: shown by a check that fails.
std::string told(const run_outcome& o) {
    std::string all;
    for (const auto& t : o.takes) {
        all += "take " + std::to_string(t.number) + "\n";
        for (const auto& problem : t.problems) all += problem + "\n";
        all += t.log;
    }
    return all;
}

std::size_t count(const run_outcome& o, verdict v) {
    std::size_t n = 0;
    for (const auto& c : o.checks) n += c.outcome() == v ? 1U : 0U;
    return n;
}

}  // namespace

TEST_CASE("live run: the console sets the modes, the operator the knob, and all is judged",
          "[run][live]") {
    live_bench bench;
    std::vector<std::string> asked;
    const auto outcome = bench.run_with({.ask =
                                             [&](const hand_action& a) {
                                                 asked.push_back(a.instruction);
                                                 return hand_result{};
                                             },
                                         .made_before = {},
                                         .planned_actions = 2});
    INFO(told(outcome));
    CHECK(count(outcome, verdict::pass) == 4);
    CHECK(asked == std::vector<std::string>{"Set 'knob' to down", "Set 'knob' to up"});
    CHECK(bench.modes == std::vector<std::string>{"tied", "wide", "tied", "wide"});
}

TEST_CASE("live run: an unattended run judges what is made and skips the rest", "[run][live]") {
    live_bench bench;
    const auto outcome =
        bench.run_with({.ask = {}, .made_before = {{"knob", "down"}}, .planned_actions = 0});
    INFO(told(outcome));
    CHECK(count(outcome, verdict::pass) == 2);
    CHECK(count(outcome, verdict::skipped) == 2);
    CHECK(bench.sound.plays == 2);
    CHECK(outcome.takes.size() == 4);
    CHECK(outcome.checks.back().findings.front().reason ==
          "This needs a hand and the run is unattended: Set 'knob' to up.");
}

TEST_CASE("live run: a module that restarts fails, is set again and its takes are played again",
          "[run][live]") {
    live_bench bench;
    bench.sound.spoil = [&](take& t) {
        if (t.number != 2) return;
        bench.memory.restart();
        bench.wire.wire().say("Ferrule 1.4 ready\r\n");
    };
    const auto outcome =
        bench.run_with({.ask = {}, .made_before = {{"knob", "down"}}, .planned_actions = 0});
    INFO(told(outcome));
    CHECK(outcome.checks.back().check == "console");
    CHECK(outcome.checks.back().outcome() == verdict::fail);
    // Wide was spoilt by the restart: it is played again, in the mode that it needs.
    CHECK(bench.modes == std::vector<std::string>{"tied", "wide", "wide"});
    CHECK(count(outcome, verdict::pass) == 2);
}

TEST_CASE("live run: a console that comes back under another name is used on", "[run][live]") {
    live_bench bench;
    bench.sound.spoil = [&](take& t) {
        if (t.number != 1) return;
        bench.wire.go_away();
        bench.memory.restart();
        bench.wire.come_back();
    };
    const auto outcome =
        bench.run_with({.ask = {}, .made_before = {{"knob", "down"}}, .planned_actions = 0});
    INFO(told(outcome));
    CHECK(count(outcome, verdict::fail) == 0);
    CHECK(count(outcome, verdict::pass) == 2);
    CHECK(bench.modes == std::vector<std::string>{"tied", "wide", "tied"});
    // Nobody can tell whether the module restarted while its console was away.
    CHECK(outcome.checks.back().check == "console");
    CHECK(outcome.checks.back().outcome() == verdict::unsure);
    CHECK_FALSE(outcome.takes.front().problems.empty());
}
