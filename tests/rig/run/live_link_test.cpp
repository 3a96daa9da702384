#include "rig/run/live_link.hpp"

#include <catch2/catch.hpp>

using namespace cvrig;
using Catch::Matchers::Contains;
using what = set_result::what;

namespace {

class pretended_link : public link {
public:
    int plays{0};
    std::string log{"the link's own log"};

    take play(const stimulus& s, const setting_choice& choice, int number, int attempt) override {
        ++plays;
        auto t = begin_take(s, choice, number, attempt);
        t.heard = {{0.0F}};
        t.log = log;
        return t;
    }
    [[nodiscard]] std::string description() const override { return "pretended link"; }
};

class pretended_setter : public setter {
public:
    set_result next;
    set_result set(const setting_choice&) override { return next; }
};

/// Hands out one record after the other: before and during each take.
class pretended_console : public console {
public:
    std::vector<console_record> records;
    bool answers{true};
    int asked{0};

    console_reply ask(const dialogue_line&) override {
        ++asked;
        return {answers, {}, {}, answers ? "" : "The module did not answer 'SYSTem:ERRor?'."};
    }
    void mark() override {}
    console_record record() override { return {}; }
    console_record cut() override {
        if (records.empty()) return {};
        auto first = records.front();
        records.erase(records.begin());
        return first;
    }
    void expect_reset() override {}
    [[nodiscard]] std::string description() const override { return "terminal /tmp/x"; }
};

struct live_bench {
    pretended_link plays;
    pretended_setter sets;
    pretended_console talks;
    int stops{0};
    live_link to_module{{.plays = plays,
                         .sets = sets,
                         .talks = &talks,
                         .alive = dialogue_line{"SYSTem:ERRor?", "0.*", {}},
                         .stop_run = [this] { ++stops; }}};

    take play() { return to_module.play({}, {{"mode", "tied"}}, 3, 1); }
};

}  // namespace

TEST_CASE("live link: a take carries what the console said before and during it",
          "[run][live_link]") {
    live_bench b;
    b.talks.records = {
        {.log = "+0.1 s > VOICe:MODE tied\n",
         .resets = {},
         .doubts = {"It was gone."},
         .problems = {"The console went away and came back."}},
        {.log = "+1.5 s < voice 1 on\n", .resets = {}, .doubts = {}, .problems = {}}};
    const auto t = b.play();
    CHECK(t.log ==
          "[console, before the take]\n+0.1 s > VOICe:MODE tied\nthe link's own log\n"
          "[console, during the take]\n+1.5 s < voice 1 on\n");
    CHECK(t.is_good());  // it was set after the console had come back
    CHECK(t.module_faults.empty());
    CHECK(t.module_doubts == std::vector<std::string>{"It was gone."});
    CHECK(b.talks.asked == 1);
    CHECK(b.to_module.description() == "pretended link; console: terminal /tmp/x");
}

TEST_CASE("live link: a restart before or during a take is the module's fault",
          "[run][live_link]") {
    live_bench b;
    b.talks.records = {{"", {"It restarted before."}, {}, {}},
                       {"", {"It restarted during."}, {}, {}}};
    CHECK(b.play().module_faults ==
          std::vector<std::string>{"It restarted before.", "It restarted during."});
}

TEST_CASE("live link: a console that goes away during a take puts it in doubt",
          "[run][live_link]") {
    live_bench b;
    b.talks.records = {{}, {"", {}, {}, {"The console went away."}}};
    CHECK(b.play().problems == std::vector<std::string>{"The console went away."});
}

TEST_CASE("live link: a module that is mute after the take puts it in doubt", "[run][live_link]") {
    live_bench b;
    b.talks.answers = false;
    CHECK(b.play().problems ==
          std::vector<std::string>{"After the take: The module did not answer 'SYSTem:ERRor?'."});
}

TEST_CASE("live link: what cannot be set is not played", "[run][live_link]") {
    live_bench b;
    b.sets.next = {what::skipped, "It needs a hand."};
    CHECK(b.play().skipped == "It needs a hand.");
    b.sets.next = {what::failed, "The console did not set it."};
    CHECK(b.play().problems == std::vector<std::string>{"The console did not set it."});
    CHECK(b.stops == 0);
    b.sets.next = {what::aborted, "The operator ended the run."};
    CHECK(b.play().skipped == "The operator ended the run.");
    CHECK(b.stops == 1);
    CHECK(b.plays.plays == 0);
}

TEST_CASE("live link: a bench without a console plays and tells nothing", "[run][live_link]") {
    live_bench b;
    live_link bare{
        {.plays = b.plays, .sets = b.sets, .talks = nullptr, .alive = {}, .stop_run = {}}};
    const auto t = bare.play({}, {}, 1, 1);
    CHECK(t.log == "the link's own log");
    CHECK(bare.description() == "pretended link");
}
