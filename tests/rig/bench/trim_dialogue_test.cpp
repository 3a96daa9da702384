#include "rig/bench/trim_dialogue.hpp"

#include <fmt/format.h>
#include <catch2/catch.hpp>
#include <cmath>
#include <sstream>

#include "rig/expectations/user_error.hpp"
#include "tests/rig/bench/bench_faults.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

constexpr double true_gain = 1.013;

std::string shown(double v) {
    return fmt::format("{:.3f}\n", v);
}

// What a person with a meter types for one output held at 0, 1, 3 and 5 V.
std::string readings(double gain = true_gain) {
    std::string out;
    for (const double v : {0.0, 1.0, 3.0, 5.0}) out += shown(gain * v);
    return out;
}

struct session {
    bench desk_with_cables{desk()};
    simulated_interface to;
    std::ostringstream said;
    trim_request request;

    static std::vector<std::vector<float>> cable(const std::vector<std::vector<float>>& outputs,
                                                 sample_rate) {
        return {outputs[0], outputs[0]};
    }
    explicit session(patched_module between = cable)
        : to{desk_with_cables, manners(), std::move(between)} {
        request.date = "2026-11-25";
    }
    static interface_manners manners() {
        interface_manners m;
        m.gain = true_gain;
        m.outputs_to_loop = 1.0;  // the cable from an output to the loop-back's input
        return m;
    }
    trim_constants run(const std::string& typed) {
        std::istringstream in{typed};
        return trim_by_dialogue(to, desk_with_cables, request, in, said);
    }
};

}  // namespace

TEST_CASE("a person with a meter trims a whole bench", "[bench][trim]") {
    session s;
    const auto found = s.run("y\n" + readings() + readings() + readings() + "\n\n\n\n");
    REQUIRE(found.outputs.size() == 4);
    REQUIRE(found.inputs.size() == 3);
    CHECK(found.bench == "desk");
    CHECK_THAT(found.meter, Contains("module plugged in"));
    for (const auto& o : found.outputs) {
        CAPTURE(o.name);
        // The meter was read to 1 mV at 5 V of 10 V full scale.
        CHECK_THAT(o.trim.volts_per_full_scale, WithinAbs(10.0 * true_gain, 0.003));
        CHECK(o.trim.u_volts_per_full_scale > 0.02);  // 0.5 % / sqrt(3) of 10 V is 0.029 V
    }
    for (const auto& i : found.inputs) {
        CAPTURE(i.name);
        CHECK_THAT(i.trim.volts_per_full_scale, WithinAbs(10.0, 0.003));
    }
    CHECK_THAT(s.said.str(), Contains("loudspeakers"));
    for (const volts v : s.to.held()) CHECK(v == volts{0.0});
}

TEST_CASE("nonsense is asked for again, and a slip can be taken back", "[bench][trim]") {
    session s;
    const auto typed = std::string{"maybe\ny\n"} + "zero\n0,000 V\n" + "1.9\nr\n" +
                       shown(true_gain) + "30.39\n" + shown(3 * true_gain) + shown(5 * true_gain) +
                       "s\ns\n" + "s\ns\ns\n";
    const auto found = s.run(typed);
    REQUIRE(found.outputs.size() == 1);
    CHECK_THAT(found.outputs[0].trim.volts_per_full_scale, WithinAbs(10.0 * true_gain, 0.003));
    CHECK_THAT(s.said.str(), Contains("'zero' is no voltage"));
    CHECK_THAT(s.said.str(), Contains("is far from 3 V"));
}

TEST_CASE("the dialogue warns of an unplugged module, of a bad line and of an inverting output",
          "[bench][trim]") {
    session s;
    const auto off_line = shown(0.0) + shown(true_gain) + "3.200\n" + shown(5 * true_gain);
    const auto found =
        s.run("n\n" + off_line + "\n" + readings() + readings(-1.0) + "s\n" + "s\ns\ns\n");
    CHECK_THAT(found.meter, Contains("not plugged in"));
    CHECK_THAT(s.said.str(), Contains("11.9 cents"));
    CHECK_THAT(s.said.str(), Contains("off the line"));
    CHECK_THAT(s.said.str(), Contains("turns the polarity"));
    CHECK(found.outputs[1].trim.volts_per_full_scale < 0.0);
}

TEST_CASE("an aborted trim leaves 0 V and no constants", "[bench][trim]") {
    session s;
    CHECK_THROWS_AS(s.run("y\n0\n1.013\na\n"), user_error);
    for (const volts v : s.to.held()) CHECK(v == volts{0.0});
    CHECK_THROWS_AS(s.run("y\n0\n"), user_error);  // the end of the input
    CHECK_THROWS_WITH(s.run("y\ns\ns\ns\n"), Contains("No channel was measured"));
}

TEST_CASE("an input that hears more than the cable is measured again", "[bench][trim]") {
    session s{[noisy = true](const auto& outputs, sample_rate) mutable {
        std::vector<std::vector<float>> heard{outputs[0], outputs[0]};
        for (std::size_t n = 0; noisy && n < heard[0].size(); ++n)
            heard[0][n] += n % 100 < 50 ? 0.5F : -0.5F;
        noisy = false;
        return heard;
    }};
    const auto found =
        s.run("y\n" + readings() + readings() + readings() + "\n" + "\n" + "\n\n\n\n");
    CHECK_THAT(s.said.str(), Contains("Something else sounds there"));
    REQUIRE(found.inputs.size() == 3);
    CHECK_THAT(found.inputs.front().trim.volts_per_full_scale,
               WithinAbs(10.0, 0.03));  // the inputs' own gain is 1; the meter's 0.5 %
}
