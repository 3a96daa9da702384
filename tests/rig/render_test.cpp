#include "rig/stimulus/render.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "rig/expectations/user_error.hpp"
#include "tests/rig/render_fixture.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::test;
using Catch::Matchers::Contains;

score rendered(const std::vector<passage>& passages) {
    return render(passages, small_voice(), small_desk());
}

std::string refusal(const std::vector<passage>& passages,
                    const module_expectations& module = small_voice(),
                    const bench& desk = small_desk()) {
    try {
        (void)render(passages, module, desk);
    } catch (const user_error& e) {
        return e.what();
    }
    return "it was rendered";
}

bool holds(const std::vector<float>& channel, std::size_t first, std::size_t end, float v) {
    return std::all_of(channel.begin() + static_cast<std::ptrdiff_t>(first),
                       channel.begin() + static_cast<std::ptrdiff_t>(end),
                       [v](float x) { return x == v; });
}

// At 48 kHz: lead-in 7200 samples, gap 2880, return to rest 480.

TEST_CASE("render: channels follow the bench's outputs", "[rig][render]") {
    const auto s = rendered({tune("tracking", {note(0.1, 1.0)})});
    CHECK(s.volts.jacks == std::vector<std::string>{"gate", "pitch", "spare", "cutoff", "accent"});
    CHECK(s.volts.rate == sample_rate{48000.0});
    CHECK(holds(s.volts.volts[spare], 0, s.volts.size(), 0.0F));
}

TEST_CASE("render: a take is silence, gap, passage, gap, return", "[rig][render]") {
    const auto s = rendered({tune("tracking", {note(0.1, 1.0), rest(0.05, 2.0)})});
    CHECK(s.silence_first == 0);
    CHECK(s.silence_end == 7200);
    REQUIRE(s.placed.size() == 1);
    CHECK(s.placed[0].first_sample == 7200 + 2880);
    CHECK(s.placed[0].step_starts == std::vector<std::size_t>{10080, 14880});
    CHECK(s.placed[0].end_sample == 17280);
    CHECK(s.volts.size() == 17280 + 2880 + 480);

    const auto& v = s.volts.volts;
    CHECK(holds(v[pitch], 0, 7200, 0.0F));
    CHECK(holds(v[pitch], 7200, 14880, 1.0F));   // set before the gate
    CHECK(holds(v[pitch], 14880, 20160, 2.0F));  // held after the last step
    CHECK(holds(v[gate], 0, 10080, 0.0F));
    CHECK(holds(v[gate], 10080, 14880, 5.0F));
    CHECK(holds(v[gate], 14880, 20640, 0.0F));
    CHECK(holds(v[cutoff], 0, 20640, 2.5F));
    for (const auto& channel : v) CHECK(channel.size() == s.volts.size());
}

TEST_CASE("render: CVs ramp back to rest at the end, gates are low before", "[rig][render]") {
    auto last = note(0.1, 4.0);
    last.others["cutoff"] = volts{5.0};
    last.accent = true;
    const auto s = rendered({tune("tracking", {last})});
    const auto& v = s.volts.volts;
    const std::size_t ramp = s.volts.size() - 480;
    CHECK(v[pitch][ramp - 1] == 4.0F);
    // A linear ramp of 4 V in 480 samples; float keeps 4 V to 2.4e-7 V.
    CHECK_THAT(v[pitch][ramp], Catch::WithinAbs(4.0 - 4.0 / 480, 3e-7));
    CHECK_THAT(v[pitch][ramp + 239], Catch::WithinAbs(2.0, 3e-7));
    CHECK(v[pitch].back() == 0.0F);
    CHECK(v[cutoff][ramp - 1] == 5.0F);
    CHECK(v[cutoff].back() == 2.5F);
    CHECK(holds(v[accent], s.placed[0].end_sample, s.volts.size(), 0.0F));
}

TEST_CASE("render: tied steps keep the gate high between them", "[rig][render]") {
    const auto s = rendered({tune("slide", {note(0.1, 1.0), note(0.1, 2.0), rest(0.1, 2.0)})});
    const auto& at = s.placed[0].step_starts;
    CHECK(holds(s.volts.volts[gate], at[0], at[2], 5.0F));
    CHECK(s.volts.volts[pitch][at[1] - 1] == 1.0F);
    CHECK(s.volts.volts[pitch][at[1]] == 2.0F);
}

TEST_CASE("render: accent, and other CVs, hold for their step only", "[rig][render]") {
    auto loud = note(0.1, 1.0);
    loud.accent = true;
    loud.others["cutoff"] = volts{1.25};
    const auto s = rendered({tune("accent", {note(0.1, 1.0), loud, note(0.1, 1.0)})});
    const auto& at = s.placed[0].step_starts;
    CHECK(holds(s.volts.volts[accent], 0, at[1], 0.0F));
    CHECK(holds(s.volts.volts[accent], at[1], at[2], 5.0F));
    CHECK(holds(s.volts.volts[accent], at[2], s.volts.size(), 0.0F));
    CHECK(holds(s.volts.volts[cutoff], at[1], at[2], 1.25F));
    CHECK(holds(s.volts.volts[cutoff], at[2], s.volts.size(), 2.5F));
}

TEST_CASE("render: a slide jack follows the step where the module has one", "[rig][render]") {
    auto module = small_voice();
    module.drive.push_back(gate_jack("slide"));
    auto desk = small_desk();
    desk.outputs.push_back(output("slide", 0.0, 5.5));
    auto sliding = note(0.1, 1.0);
    sliding.slide = true;
    const std::vector<passage> passages{tune("slide", {sliding, note(0.1, 1.0)})};
    const auto s = render(passages, module, desk);
    CHECK(s.volts.volts[5][s.placed[0].first_sample] == 5.0F);
    CHECK(s.volts.volts[5][s.placed[0].step_starts[1]] == 0.0F);
    CHECK(rendered(passages).volts.volts.size() == 5);  // no such jack: played all the same
}

TEST_CASE("render: equal passages of different checks sound once", "[rig][render]") {
    const std::vector<step> steps{note(0.1, 1.0), rest(0.1, 1.0)};
    auto elsewhere = tune("noise", steps);
    elsewhere.choice["mode"] = "wide";
    const auto s = rendered({tune("tracking", steps), tune("level", steps), elsewhere,
                             tune("level", {note(0.1, 1.5)})});
    REQUIRE(s.placed.size() == 4);
    CHECK(s.placed[1].first_sample == s.placed[0].first_sample);
    CHECK(s.placed[1].step_starts == s.placed[0].step_starts);
    CHECK(s.placed[1].end_sample == s.placed[0].end_sample);
    CHECK(s.placed[0].asked.check == "tracking");
    CHECK(s.placed[1].asked.check == "level");
    CHECK(s.placed[2].first_sample == s.placed[0].end_sample + 2880);
    CHECK(s.placed[3].first_sample == s.placed[2].end_sample + 2880);
}

TEST_CASE("render: a check that asks twice is played to twice", "[rig][render]") {
    const std::vector<step> steps{note(0.1, 1.0)};
    const auto s =
        rendered({tune("a", steps), tune("a", steps), tune("b", steps), tune("b", steps)});
    CHECK(s.placed[1].first_sample > s.placed[0].first_sample);
    CHECK(s.placed[2].first_sample == s.placed[0].first_sample);
    CHECK(s.placed[3].first_sample == s.placed[1].first_sample);
}

TEST_CASE("render: nothing to play is a silent take", "[rig][render]") {
    const auto s = rendered({});
    CHECK(s.volts.size() == 7200 + 480);
    CHECK(holds(s.volts.volts[cutoff], 0, s.volts.size(), 2.5F));
}

TEST_CASE("render: a stair that ends on a limit is played, whatever its sum in binary",
          "[rig][render]") {
    // -0.1 + 5100 * 0.001 is one unit in the last place above 5.
    const auto s = rendered({tune("x", {note(0.1, -0.1 + 5100 * 1e-3)})});
    const auto& pitch = s.volts.volts[0];
    CHECK(static_cast<double>(*std::max_element(pitch.begin(), pitch.end())) <= 5.0);
}

TEST_CASE("render: a voltage outside the limits is refused, not clamped", "[rig][render]") {
    CHECK(refusal({tune("tracking", {note(0.1, 1.0), note(0.1, 5.1), note(0.1, 5.25)})}) ==
          "desk.yaml:5:5: check 'tracking' cannot be played: it needs 5.25 V at jack 'pitch', but "
          "the bench allows only -0.1 V to 5 V there");
    CHECK_THAT(refusal({tune("tracking", {note(0.1, -0.2)})}), Contains("-0.2 V at jack 'pitch'"));
    CHECK_THAT(refusal({tune("x", {note(0.1, std::numeric_limits<double>::quiet_NaN())})}),
               Contains("nan V at jack 'pitch'"));
    auto desk = small_desk();
    desk.outputs[gate].highest = volts{4.9};
    CHECK_THAT(refusal({tune("x", {note(0.1, 1.0)})}, small_voice(), desk),
               Contains("it needs 5 V at jack 'gate'"));
    desk.outputs[gate].highest = volts{5.0};
    CHECK(refusal({tune("x", {note(0.1, 5.0)})}, small_voice(), desk) == "it was rendered");
}

TEST_CASE("render: rounding to float never crosses a limit", "[rig][render]") {
    auto desk = small_desk();
    desk.outputs[pitch].highest = volts{4.9};  // the nearest float is 4.9000001 V
    const std::vector<passage> passages{tune("x", {note(0.1, 4.9), note(0.1, -0.1)})};
    const auto s = render(passages, small_voice(), desk);
    const auto [lowest, highest] =
        std::minmax_element(s.volts.volts[pitch].begin(), s.volts.volts[pitch].end());
    CHECK(static_cast<double>(*highest) <= 4.9);
    CHECK(static_cast<double>(*lowest) >= -0.1);
    // Two steps of float at 4.9 V.
    CHECK_THAT(*highest, Catch::WithinAbs(4.9, 1e-6));
    CHECK_THAT(*lowest, Catch::WithinAbs(-0.1, 1e-6));
}

TEST_CASE("render: all complaints come at once", "[rig][render]") {
    auto strange = note(0.1, 6.0);
    strange.others["resonance"] = volts{1.0};
    const auto text = refusal({tune("a", {strange, strange}), tune("b", {note(0.0, 1.0)})});
    CHECK(std::count(text.begin(), text.end(), '\n') == 2);
    CHECK_THAT(text, Contains("check 'a' cannot be played: the module has no jack 'resonance'") &&
                         Contains("it needs 6 V at jack 'pitch'") &&
                         Contains("check 'b' cannot be played: a step of 0 s is not possible"));
}

TEST_CASE("render: a jack that is missing is named", "[rig][render]") {
    auto desk = small_desk();
    desk.outputs.erase(desk.outputs.begin() + accent);
    auto loud = note(0.1, 1.0);
    loud.accent = true;
    CHECK_THAT(refusal({tune("accent", {loud})}, small_voice(), desk),
               Contains("no output of the bench feeds jack 'accent'"));
    CHECK(refusal({tune("tracking", {note(0.1, 1.0)})}, small_voice(), desk) == "it was rendered");
    auto twice = note(0.1, 1.0);
    twice.others["pitch"] = volts{2.0};
    CHECK_THAT(refusal({tune("gate", {twice})}), Contains("jack 'pitch' is set twice"));
    CHECK_THAT(refusal({tune("gate", {})}), Contains("it has no steps"));
}

TEST_CASE("render: a gate may be held between its levels", "[rig][render]") {
    auto half = note(0.1, 1.0);
    half.others["gate"] = volts{1.7};
    const auto s = render(std::array{tune("gate", {half})}, small_voice(), small_desk());
    const auto& channel = s.volts.volts[gate];
    CHECK(channel[s.placed[0].first_sample - 1] == 0.0f);
    CHECK(channel[s.placed[0].first_sample] == 1.7f);
    CHECK(channel[s.placed[0].end_sample - 1] == 1.7f);
    CHECK(channel[s.placed[0].end_sample] == 0.0f);
}

TEST_CASE("render: a jack moves in a straight line to the step's own voltage", "[rig][render]") {
    auto rising = note(0.1, 1.0);
    rising.from["pitch"] = volts{0.5};
    rising.from["gate"] = volts{0.0};
    const auto s = render(std::array{tune("gate", {rising})}, small_voice(), small_desk());
    const auto begin = s.placed[0].first_sample;
    const auto count = s.placed[0].end_sample - begin;
    for (std::size_t k = 1; k <= count; ++k) {
        const double share = static_cast<double>(k) / static_cast<double>(count);
        CHECK(s.volts.volts[pitch][begin + k - 1] == Approx(0.5 + 0.5 * share).margin(1e-6));
        CHECK(s.volts.volts[gate][begin + k - 1] == Approx(5.0 * share).margin(1e-6));
    }
    rising.from["pitch"] = volts{9.0};
    CHECK_THAT(refusal({tune("gate", {rising})}), Contains("it needs 9 V at jack 'pitch'"));
}

TEST_CASE("render: a take without a reasonable end is refused", "[rig][render]") {
    CHECK_THAT(refusal({tune("pattern", {note(1e9, 1.0)})}), Contains("more than 1800 s"));
    CHECK_THAT(refusal({tune("pattern", {note(INFINITY, 1.0)})}), Contains("is not possible"));
}

}  // namespace
