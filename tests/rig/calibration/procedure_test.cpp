#include "rig/calibration/procedure.hpp"

#include <catch2/catch.hpp>

#include "fake_module.hpp"
#include "rig/checks/check.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;

namespace {

using end = procedure_result::end;

line_pattern how_far(const std::string& reply) {
    return {.send = "how far?", .expect = reply, .where = {}};
}

calibration_act by_line(const std::string& line) {
    calibration_act act;
    act.console = line;
    return act;
}

/// The demo's file with the fake module's procedure.
module_expectations fake_file() {
    auto m = read_expectations(CVRIG_DEMO "/ferrule.expectations.yaml", all_specs());
    m.console.reset();
    auto& rules = *m.calibration;
    rules.settle = seconds{0.0};
    rules.enter = by_line("begin");
    rules.confirm = by_line("take {number}");
    rules.confirm.then = how_far("{number}");
    rules.store = by_line("store");
    rules.abandon = by_line("leave");
    rules.is_over = how_far("off");
    rules.seen = line_pattern{.send = "saw? {number}", .expect = "(.*)", .where = {}};
    return m;
}

struct bench_of_fakes {
    fake_module module;
    module_expectations m = fake_file();
    bench desk = read_bench(CVRIG_DEMO "/desk.bench.yaml");
    bool has_console{true};
    operator_asked ask{};

    std::string leave_first() {
        actor acts{{.module = m,
                    .desk = desk,
                    .talks = has_console ? &module : nullptr,
                    .source = nullptr,
                    .ask = ask,
                    .wait = [](seconds) {},
                    .wait_whole = [](seconds) {}}};
        return leave_what_was_begun(m, acts);
    }
    procedure_result walk() {
        actor acts{{.module = m,
                    .desk = desk,
                    .talks = has_console ? &module : nullptr,
                    .source = &module,
                    .ask = ask,
                    .wait = [](seconds) {},
                    .wait_whole = [](seconds) {}}};
        return walk_procedure(m, desk, acts, module, module.stop.get_token());
    }
};

}  // namespace

TEST_CASE("procedure: a module that goes along takes each voltage once and stores",
          "[calibration]") {
    bench_of_fakes at;
    const auto p = at.walk();
    CAPTURE(p.reason);
    CHECK(p.is_complete());
    CHECK(p.is_out == true);
    CHECK(at.module.stored);
    CHECK(at.module.taken_at_volts == std::vector<double>{1.0, 2.0, 3.0});
    CHECK(at.module.held.empty());
    REQUIRE(p.points.size() == 3);
    CHECK(p.points[1].seen == 1.5);
}

TEST_CASE("procedure: a module that was left in the middle is taken out before anything is proven",
          "[calibration]") {
    bench_of_fakes at;
    CHECK(at.leave_first().empty());
    at.module.calibrating = true;
    at.module.taken = 2;
    SECTION("and goes through its procedure then") {
        CHECK_THAT(at.leave_first(), Contains("still being calibrated"));
        CHECK_FALSE(at.module.calibrating);
        CHECK(at.walk().is_complete());
        CHECK(at.module.taken_at_volts == std::vector<double>{1.0, 2.0, 3.0});
    }
    SECTION("or it is said that it does not leave") {
        at.m.calibration->abandon = by_line("please");
        CHECK_THROWS_WITH(at.leave_first(), Contains("did not leave"));
    }
}

TEST_CASE("procedure: a module that sticks is left out of its calibration", "[calibration]") {
    bench_of_fakes at;
    at.module.never_takes = GENERATE(1, 2, 3);
    const auto p = at.walk();
    CHECK(p.how == end::refused);
    CHECK(p.stuck_at == static_cast<std::size_t>(at.module.never_takes));
    CHECK(p.is_out == true);
    CHECK_FALSE(at.module.calibrating);
    CHECK_FALSE(at.module.stored);
    CHECK(at.module.held.empty());
}

TEST_CASE("procedure: stopped after any line, it leaves no module in calibration",
          "[calibration]") {
    bench_of_fakes whole;
    REQUIRE(whole.walk().is_complete());
    const auto lines = static_cast<int>(whole.module.lines.size());
    for (int n = 1; n <= lines; ++n) {
        CAPTURE(n, whole.module.lines[static_cast<std::size_t>(n - 1)]);
        bench_of_fakes at;
        at.module.stop_after_lines = n;
        const auto p = at.walk();
        CHECK_FALSE(at.module.calibrating);
        CHECK(at.module.held.empty());
        // It is stored whole or not at all.
        CHECK(at.module.stored == p.is_complete());
        if (!p.is_complete()) CHECK(p.how == end::stopped);
    }
}

TEST_CASE("procedure: a module that does not leave by itself is told, and that is a failure",
          "[calibration]") {
    bench_of_fakes at;
    at.module.stays = true;
    const auto p = at.walk();
    CHECK(p.how == end::refused);
    CHECK(p.stage == "leaving");
    CHECK(p.is_out == true);
    CHECK_FALSE(at.module.calibrating);
}

TEST_CASE(
    "procedure: a jack that loads its voltage, or lets it move, ends it with the bench to blame",
    "[calibration]") {
    bench_of_fakes at;
    at.module.is_sensed = true;
    SECTION("as 1 kilohm into 100 kilohm does") {
        at.module.load = 0.0099;  // common practice, no source: 1 / 101
        const auto p = at.walk();
        CHECK(p.how == end::bench);
        CHECK_THAT(p.reason, Contains("990.1 mV") && Contains("1 V") && Contains("plugged in"));
        CHECK(at.module.taken == 0);
    }
    SECTION("by a millivolt") {
        at.module.drift_volts = 0.001;
        const auto p = at.walk();
        CHECK(p.how == end::bench);
        CHECK_THAT(p.reason, Contains("does not stand still") && Contains("1.2 cent"));
    }
    SECTION("but not within what the bench knows") {
        at.module.load = 0.0003;
        at.module.drift_volts = 0.0001;
        const auto p = at.walk();
        CHECK(p.is_complete());
        CHECK(p.points[2].sensed);
    }
    CHECK_FALSE(at.module.calibrating);
}

TEST_CASE("procedure: a pulse at a jack confirms where there is no console", "[calibration]") {
    bench_of_fakes at;
    at.has_console = false;
    at.module.calibrating = true;  // by hand, before
    at.m.calibration->enter.reset();
    at.m.calibration->store.reset();
    at.m.calibration->confirm.pulse = jack_pulse{"gate", volts{5.0}, seconds{0.05}};
    const auto p = at.walk();
    CAPTURE(p.reason);
    CHECK(p.is_complete());
    CHECK(at.module.taken_at_volts == std::vector<double>{1.0, 2.0, 3.0});
    CHECK_FALSE(p.is_out);
}

TEST_CASE("procedure: a person presses the buttons and says what the lights did", "[calibration]") {
    bench_of_fakes at;
    at.has_console = false;
    std::vector<std::string> asked;
    int seen = 3;  // so many lights
    at.ask = [&](const hand_action& action) {
        asked.push_back(action.instruction);
        if (action.instruction.starts_with("Hold")) at.module.calibrating = true;
        if (action.instruction.starts_with("Press")) {
            at.module.press();
            if (seen-- <= 0)
                return hand_result{hand_result::what::skipped, "The operator skipped it."};
        }
        return hand_result{};
    };
    at.m.calibration->enter->operator_instruction = "Hold SHIFT";
    at.m.calibration->confirm.operator_instruction = "Press SHIFT at {volts} V";
    at.m.calibration->confirm.shows = "the light blinks {number} times";
    at.m.calibration->store->operator_instruction = "Let go";
    at.m.calibration->abandon->operator_instruction = "Switch it off and on";
    SECTION("and all is well") {
        const auto p = at.walk();
        CHECK(p.is_complete());
        REQUIRE(asked.size() == 5);
        CHECK(asked[2] ==
              "Press SHIFT at 2 V (it worked if the light blinks 2 times; s if it did not)");
    }
    SECTION("and one does not blink") {
        seen = 1;
        const auto p = at.walk();
        CHECK(p.how == end::refused);
        CHECK(p.stuck_at == 2U);
        CHECK_THAT(p.reason, Contains("the light blinks 2 times"));
        CHECK(asked.back() == "Switch it off and on");
    }
}

TEST_CASE("procedure: a module that is slow to say so is asked again, and no button pressed twice",
          "[calibration]") {
    bench_of_fakes at;
    at.module.lags = 1;
    at.m.calibration->confirm.console.reset();
    at.m.calibration->confirm.pulse = jack_pulse{"gate", volts{5.0}, seconds{0.05}};
    const auto p = at.walk();
    CAPTURE(p.reason);
    CHECK(p.is_complete());
    CHECK(p.is_seen);
    CHECK(at.module.presses == 3);
    CHECK(at.module.taken_at_volts == std::vector<double>{1.0, 2.0, 3.0});
}

TEST_CASE("procedure: a console that does not answer is no module that sticks", "[calibration]") {
    bench_of_fakes at;
    at.module.is_mute = true;
    const auto p = at.walk();
    CHECK(p.how == end::bench);
    CHECK_FALSE(p.stuck_at);
    CHECK_FALSE(p.notes.empty());
}

TEST_CASE("procedure: a press that nobody saw counts as none that was seen", "[calibration]") {
    bench_of_fakes at;
    at.has_console = false;
    at.m.calibration->enter.reset();
    at.m.calibration->store.reset();
    at.m.calibration->confirm.pulse = jack_pulse{"gate", volts{5.0}, seconds{0.05}};
    const auto p = at.walk();
    CHECK(p.is_complete());
    CHECK_FALSE(p.is_seen);
    CHECK(at.module.taken == 0);
}

TEST_CASE("procedure: a pulse at a jack that the bench does not feed is left to a person",
          "[calibration]") {
    bench_of_fakes at;
    at.has_console = false;
    at.m.calibration->enter->pulse = jack_pulse{"reset", volts{5.0}, seconds{0.05}};
    at.m.calibration->enter->operator_instruction = "Hold SHIFT";
    int asked = 0;
    at.ask = [&](const hand_action&) {
        ++asked;
        return hand_result{hand_result::what::aborted, "The operator ended the run."};
    };
    const auto p = at.walk();
    CHECK(asked == 1);
    CHECK(p.how == end::stopped);
}

TEST_CASE("procedure: a sense that cannot be read is tried again, then the bench is to blame",
          "[calibration]") {
    bench_of_fakes at;
    at.module.is_sensed = true;
    at.module.unread = GENERATE(1, 2);
    const bool once = at.module.unread == 1;
    const auto p = at.walk();
    CHECK(p.is_complete() == once);
    if (!once) CHECK(p.how == end::bench);
}

TEST_CASE("procedure: jacks that do not rest again are told", "[calibration]") {
    bench_of_fakes at;
    at.module.refuses_rest = true;
    const auto p = at.walk();
    REQUIRE_FALSE(p.notes.empty());
    CHECK_THAT(p.notes.back(), Contains("may still hold their voltages"));
}

TEST_CASE("procedure: after a stop it is said what the module was left in", "[calibration]") {
    const auto m = fake_file();
    auto rules = *m.calibration;
    rules.abandon->operator_instruction = "Switch it off and on";
    procedure_result p;
    p.how = end::stopped;
    CHECK_THAT(what_a_stop_left(p, rules), Contains("nothing had been begun"));
    p.was_begun = true;
    CHECK_THAT(what_a_stop_left(p, rules), Contains("To leave it: Switch it off and on."));
    p.is_out = true;
    CHECK_THAT(what_a_stop_left(p, rules), Contains("keeps its constants"));
    p.may_have_stored = true;
    CHECK_THAT(what_a_stop_left(p, rules), Contains("may have stored"));
    p.how = end::completed;
    CHECK_THAT(what_a_stop_left(p, rules), Contains("had been stored"));
}

TEST_CASE("procedure: what needs a hand is not done where nobody is there", "[calibration]") {
    bench_of_fakes at;
    at.has_console = false;
    const auto p = at.walk();
    CHECK(p.how == end::bench);
    CHECK(p.stage == "entering");
}
