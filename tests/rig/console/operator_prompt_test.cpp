#include "rig/console/operator_prompt.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <array>
#include <catch2/catch.hpp>
#include <future>

#include "tests/rig/console/fake_module.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;
using what = hand_result::what;

namespace {

constexpr std::string_view end_of_prompt = "(then Enter)\r\n";

/// A rig that asks at a terminal, and the person there.
struct at_a_terminal {
    terminal_pair pair{open_terminal_pair()};
    std::stop_source stop;
    operator_prompt prompt;

    explicit at_a_terminal(std::vector<std::string> cautions = {})
        : prompt{{.in = pair.rig.number(),
                  .out = pair.rig.number(),
                  .redraws = false,
                  .cautions = std::move(cautions)},
                 stop.get_token()} {}

    std::future<hand_result> ask(const hand_action& action) {
        return std::async(std::launch::async, [this, action] { return prompt.ask(action); });
    }
    [[nodiscard]] std::string shown() const { return read_until(pair.person, end_of_prompt); }
    void type(const std::string& keys) const {
        CHECK(::write(pair.person.number(), keys.data(), keys.size()) ==
              static_cast<ssize_t>(keys.size()));
    }
};

}  // namespace

TEST_CASE("the operator sees the action, its number and the keys, and Enter means done",
          "[console][operator]") {
    at_a_terminal t;
    auto asked = t.ask({"Set the lower switch to tied", 2, 5});
    const auto shown = t.shown();
    CHECK_THAT(shown, Contains("Action 2 of 5: Set the lower switch to tied\r\n"));
    CHECK_THAT(shown, Contains("Enter = done,  r = show again,  s = skip,  a = abort the run"));
    t.type("\n");
    CHECK(asked.get().became == what::done);
}

TEST_CASE("the keys s and a skip and abort, and r shows the action again", "[console][operator]") {
    at_a_terminal t;
    auto asked = t.ask({"Turn SLIDE down", 1, 1});
    static_cast<void>(t.shown());
    t.type("r\n");
    CHECK_THAT(t.shown(), Contains("Action 1 of 1: Turn SLIDE down"));
    t.type("x\n");
    CHECK_THAT(t.shown(), Contains("'x' is none of the keys."));
    t.type(" S \n");
    const auto skipped = asked.get();
    CHECK(skipped.became == what::skipped);
    CHECK(skipped.reason == "The operator skipped it: Turn SLIDE down.");

    asked = t.ask({"Turn SLIDE down", 7, 6});
    CHECK_THAT(t.shown(), Contains("Action 7: Turn"));  // more than were planned
    t.type("a\n");
    const auto aborted = asked.get();
    CHECK(aborted.became == what::aborted);
    CHECK(aborted.reason == "The operator ended the run.");
}

TEST_CASE("what was typed before an action is shown does not confirm it", "[console][operator]") {
    at_a_terminal t;
    t.type("\n\n");
    auto asked = t.ask({"Set the switch to wide", 1, 1});
    static_cast<void>(t.shown());
    CHECK(asked.wait_for(std::chrono::milliseconds{200}) == std::future_status::timeout);
    t.type("s\n");
    CHECK(asked.get().became == what::skipped);
}

TEST_CASE("the end of the input aborts with a sentence", "[console][operator]") {
    const descriptor nothing{::open("/dev/null", O_RDWR | O_CLOEXEC)};
    operator_prompt prompt{{nothing.number(), nothing.number(), false, {}}, {}};
    const auto result = prompt.ask({"Set the switch to wide", 1, 1});
    CHECK(result.became == what::aborted);
    CHECK_THAT(result.reason, Contains("input ended before the action was done"));
}

TEST_CASE("a stop ends the waiting for the operator", "[console][operator]") {
    at_a_terminal t;
    auto asked = t.ask({"Set the switch to wide", 1, 1});
    static_cast<void>(t.shown());
    t.stop.request_stop();
    CHECK(asked.get().became == what::aborted);
}

TEST_CASE("a pipe may hold all answers beforehand", "[console][operator]") {
    std::array<int, 2> ends{};
    REQUIRE(::pipe(ends.data()) == 0);
    const descriptor reading{ends[0]};
    descriptor writing{ends[1]};
    REQUIRE(::write(writing.number(), "\ns\n", 3) == 3);
    const descriptor nothing{::open("/dev/null", O_WRONLY | O_CLOEXEC)};
    operator_prompt prompt{{reading.number(), nothing.number(), false, {}}, {}};
    CHECK(prompt.ask({"first", 1, 2}).became == what::done);
    CHECK(prompt.ask({"second", 2, 2}).became == what::skipped);
}

TEST_CASE("cautions are shown once, before the first action", "[console][operator]") {
    at_a_terminal t{{"switch the case off first."}};
    for (int i = 1; i <= 2; ++i) {
        auto asked = t.ask({"Move the ribbon cable", i, 2});
        const bool warned =
            t.shown().find("Caution: switch the case off first.") != std::string::npos;
        CHECK(warned == (i == 1));
        t.type("\n");
        CHECK(asked.get().became == what::done);
    }
}

TEST_CASE("cautions belong to what is moved, not to every switch", "[console][operator]") {
    CHECK(cautions_for({"Set the lower switch to tied", "Turn SLIDE down", "Play the keyboard"})
              .empty());
    CHECK(cautions_for({"Move the jumper to the left"}).size() == 1);
    const auto both = cautions_for({"Unplug the patch cables", "Turn the ribbon round"});
    REQUIRE(both.size() == 2);
    CHECK_THAT(both[0], Contains("switch the case off") && Contains("polarity"));
    CHECK_THAT(both[1], Contains("DC"));
}
