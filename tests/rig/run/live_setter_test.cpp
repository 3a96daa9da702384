#include "rig/run/live_setter.hpp"

#include <catch2/catch.hpp>
#include <functional>

#include "rig/expectations/expression.hpp"

using namespace cvrig;
using Catch::Matchers::Contains;
using what = set_result::what;

namespace {

/// A console whose module is a map of settings.
class pretended_console : public console {
public:
    std::map<std::string, std::string> set;  ///< by the word before the value
    std::vector<std::string> sent;
    std::vector<std::string> errors;
    std::size_t restarts_so_far{0};
    std::function<void(const std::string&)> meddle;  ///< after each line

    console_reply ask(const dialogue_line& line) override {
        sent.push_back(line.send);
        const auto reply = answer(line.send);
        if (meddle) meddle(line.send);
        if (!line.expect) return {true, {}, {}, {}};
        const auto e = expression::parse(*line.expect);
        REQUIRE(e.has_value());
        if (reply.empty()) return {false, {}, {}, "The module did not answer."};
        const bool ok = e->match(reply).has_value();
        return {ok, reply, {}, ok ? "" : "The module answered something else."};
    }
    void mark() override {}
    console_record record() override { return {}; }
    void expect_reset() override {}
    [[nodiscard]] std::size_t restarts() const override { return restarts_so_far; }
    [[nodiscard]] std::string description() const override { return "pretended"; }

private:
    std::string answer(const std::string& line) {
        if (line == "SYSTem:ERRor?") {
            if (errors.empty()) return "+0,\"No error\"";
            const auto first = errors.front();
            errors.erase(errors.begin());
            return first;
        }
        if (line.ends_with("?")) return set[line.substr(0, line.size() - 1)];
        const auto blank = line.find(' ');
        if (blank != std::string::npos) set[line.substr(0, blank)] = line.substr(blank + 1);
        return {};
    }
};

module_expectations module() {
    module_expectations m;
    setting mode;
    mode.name = "mode";
    mode.values = {"tied", "struck", "wide"};
    mode.console = "VOICe:MODE {value}";
    mode.confirm = "VOICe:MODE?";
    mode.operator_instruction = "Set the lower switch to {value}";
    setting wave;
    wave.name = "waveform";
    wave.values = {"saw", "square"};
    wave.operator_instruction = "Set the upper switch to {value}";
    setting knob;
    knob.name = "slide knob";
    knob.values = {"down"};
    m.settings = {mode, wave, knob};
    m.console.emplace();
    m.console->no_error = dialogue_line{"SYSTem:ERRor?", "[+]?0,\"No error\"", {}};
    return m;
}

setting_choice choice(const std::string& mode, const std::string& wave) {
    return {{"mode", mode}, {"waveform", wave}, {"slide knob", "down"}};
}

/// An operator who writes down what is asked, and answers as told.
struct pretended_operator {
    std::vector<std::string> asked;
    hand_result answer{};

    operator_asked function() {
        return [this](const hand_action& a) {
            asked.push_back(std::to_string(a.number) + "/" + std::to_string(a.of) + " " +
                            a.instruction);
            return answer;
        };
    }
};

bool accepts(const std::string& value, const std::vector<std::string>& values,
             const std::string& reply) {
    setting s;
    s.values = values;
    return expression::parse(reply_for(value, s))->match(reply).has_value();
}

}  // namespace

TEST_CASE("setter: the console sets what it can, the operator the rest, each thing once",
          "[run][setter]") {
    const auto m = module();
    pretended_console talks;
    pretended_operator person;
    live_setter s{m, &talks, {.ask = person.function(), .made_before = {}, .planned_actions = 3}};
    CHECK(s.set(choice("tied", "saw")).became == what::done);
    CHECK(talks.set["VOICe:MODE"] == "tied");
    CHECK(person.asked == std::vector<std::string>{"1/3 Set the upper switch to saw",
                                                   "2/3 Set 'slide knob' to down"});
    talks.sent.clear();
    CHECK(s.set(choice("tied", "saw")).became == what::done);
    CHECK(talks.sent.empty());
    CHECK(s.set(choice("wide", "square")).became == what::done);
    CHECK(talks.sent ==
          std::vector<std::string>{"VOICe:MODE wide", "VOICe:MODE?", "SYSTem:ERRor?"});
    CHECK(person.asked.size() == 3);
    CHECK(person.asked.back() == "3/3 Set the upper switch to square");
    CHECK(s.actions() == 3);
    CHECK(s.known() == choice("wide", "square"));
}

TEST_CASE("setter: without a console the operator sets everything", "[run][setter]") {
    const auto m = module();
    pretended_operator person;
    live_setter s{m, nullptr, {.ask = person.function(), .made_before = {}, .planned_actions = 3}};
    CHECK(s.set(choice("tied", "saw")).became == what::done);
    CHECK(person.asked.front() == "1/3 Set the lower switch to tied");
    CHECK(person.asked.size() == 3);
}

TEST_CASE("setter: an unattended run skips what needs a hand, unless it was made before",
          "[run][setter]") {
    const auto m = module();
    pretended_console talks;
    live_setter bare{m, &talks, {}};
    const auto skipped = bare.set(choice("tied", "saw"));
    CHECK(skipped.became == what::skipped);
    CHECK(skipped.reason ==
          "This needs a hand and the run is unattended: Set the upper switch to saw.");
    CHECK(talks.sent.empty());

    auto before = fixed_settings(m);
    CHECK(before == setting_choice{{"slide knob", "down"}});
    before["waveform"] = "saw";
    live_setter prepared{m, &talks, {.ask = {}, .made_before = before, .planned_actions = 0}};
    CHECK(prepared.set(choice("tied", "saw")).became == what::done);
    CHECK(prepared.set(choice("tied", "square")).became == what::skipped);
    CHECK(prepared.set(choice("wide", "saw")).became == what::done);
}

TEST_CASE("setter: what a bench is prepared with is known, and another value needs the hand",
          "[run][setter]") {
    auto m = module();
    for (auto& s : m.settings)
        if (s.name == "waveform") s.prepared = "saw";
    CHECK(prepared_settings(m) == setting_choice{{"waveform", "saw"}});
    pretended_console talks;
    auto before = prepared_settings(m);
    before["slide knob"] = "down";
    live_setter s{m, &talks, {.ask = {}, .made_before = before, .planned_actions = 0}};
    CHECK(s.set(choice("tied", "saw")).became == what::done);
    CHECK(s.set(choice("tied", "square")).became == what::skipped);
}

TEST_CASE("setter: what the operator skips is not asked for again, what he aborts ends it",
          "[run][setter]") {
    const auto m = module();
    pretended_console talks;
    pretended_operator person;
    person.answer = {hand_result::what::skipped, "The operator skipped it."};
    live_setter s{m, &talks, {.ask = person.function(), .made_before = {}, .planned_actions = 3}};
    CHECK(s.set(choice("tied", "saw")).became == what::skipped);
    CHECK(s.set(choice("wide", "saw")).became == what::skipped);
    CHECK(person.asked.size() == 1);
    person.answer = {};
    CHECK(s.set(choice("wide", "square")).became == what::done);
    person.answer = {hand_result::what::aborted, "The operator ended the run."};
    live_setter other{
        m, &talks, {.ask = person.function(), .made_before = {}, .planned_actions = 3}};
    CHECK(other.set(choice("wide", "saw")).became == what::aborted);
}

TEST_CASE("setter: a restart makes everything be set again that the console sets",
          "[run][setter]") {
    const auto m = module();
    pretended_console talks;
    pretended_operator person;
    live_setter s{m, &talks, {.ask = person.function(), .made_before = {}, .planned_actions = 3}};
    REQUIRE(s.set(choice("wide", "saw")).became == what::done);
    talks.set.clear();
    ++talks.restarts_so_far;
    CHECK(s.set(choice("wide", "saw")).became == what::done);
    CHECK(talks.set["VOICe:MODE"] == "wide");
    CHECK(person.asked.size() == 2);  // no switch moves when the module restarts
}

TEST_CASE("setter: a module that restarts while it is set is set again, but not for ever",
          "[run][setter]") {
    const auto m = module();
    pretended_console talks;
    live_setter s{m,
                  &talks,
                  {.ask = {},
                   .made_before = {{"waveform", "saw"}, {"slide knob", "down"}},
                   .planned_actions = 0}};
    int times = 1;
    talks.meddle = [&](const std::string& line) {
        if (line != "VOICe:MODE?" || times-- <= 0) return;
        talks.set.clear();
        ++talks.restarts_so_far;
    };
    CHECK(s.set(choice("wide", "saw")).became == what::done);
    CHECK(talks.set["VOICe:MODE"] == "wide");
    times = 1000;
    const auto result = s.set(choice("tied", "saw"));
    CHECK(result.became == what::failed);
    CHECK_THAT(result.reason, Contains("restarted again and again"));
}

TEST_CASE("setter: a wrong value and a reported error are told", "[run][setter]") {
    auto m = module();
    pretended_console talks;
    const live_setter_options prepared{.ask = {},
                                       .made_before = {{"waveform", "saw"}, {"slide knob", "down"}},
                                       .planned_actions = 0};
    live_setter s{m, &talks, prepared};
    talks.meddle = [&](const std::string&) { talks.set["VOICe:MODE"] = "tied"; };
    const auto wrong = s.set(choice("wide", "saw"));
    CHECK(wrong.became == what::failed);
    CHECK(
        wrong.reason ==
        "The console did not set 'mode' to 'wide': The module answers 'VOICe:MODE?' with 'tied'.");
    talks.meddle = [&](const std::string& line) {
        if (line == "VOICe:MODE wide")
            talks.errors.emplace_back("-224,\"Illegal parameter value\"");
    };
    m.settings[0].confirm.reset();
    const auto error = s.set(choice("wide", "saw"));
    CHECK(error.became == what::failed);
    CHECK_THAT(error.reason, Contains("After 'VOICe:MODE wide' the module reports '-224,"));
}

TEST_CASE("setter: errors from before the first setting are not blamed on it", "[run][setter]") {
    const auto m = module();
    pretended_console talks;
    // What a module makes of the noise of a port that is opened; SCPI-99, volume 2, 21.8.
    talks.errors = {"-113,\"Undefined header\"", "-350,\"Queue overflow\""};
    live_setter s{m,
                  &talks,
                  {.ask = {},
                   .made_before = {{"waveform", "saw"}, {"slide knob", "down"}},
                   .planned_actions = 0}};
    CHECK(s.set(choice("wide", "saw")).became == what::done);
}

TEST_CASE("setter: a value may be answered in either case, quoted, or in its short form",
          "[run][setter]") {
    const std::vector<std::string> modes{"tied", "struck", "wide"};
    for (const auto* reply : {"struck", "STRUCK", "\"struck\"", "STR", "str"})
        CHECK(accepts("struck", modes, reply));
    for (const auto* reply : {"stru", "s", "tied", "struck 1", ""})
        CHECK_FALSE(accepts("struck", modes, reply));
    // SCPI-99, volume 1, 6.2.1 (from memory), with the standard's own words FREQuency, VOLTage and
    // POWer: four letters stay, unless the word is longer and the fourth is a vowel.
    CHECK(accepts("tied", modes, "TIED"));
    CHECK_FALSE(accepts("tied", modes, "tie"));
    CHECK(accepts("frequency", {"frequency", "voltage"}, "FREQ"));
    CHECK(accepts("voltage", {"frequency", "voltage"}, "VOLT"));
    CHECK(accepts("power", {"power"}, "POW"));
    // Two values with one short form need their whole words.
    CHECK_FALSE(accepts("struck", {"struck", "string"}, "STR"));
    CHECK(accepts("struck", {"struck", "string"}, "STRUCK"));
    CHECK(accepts("3.5", {"3.5"}, "3.5"));
    CHECK_FALSE(accepts("3.5", {"3.5"}, "345"));
}
