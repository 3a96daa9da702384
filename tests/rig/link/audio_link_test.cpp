#include "rig/link/audio_link.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <functional>

#include "rig/expectations/user_error.hpp"

using namespace cvrig;
using Catch::Matchers::Contains;

namespace {

constexpr std::size_t latency = 700;

/// An interface whose outputs lead to its inputs, `latency` samples later, with a fault at will.
class looped_interface : public audio_interface {
public:
    std::function<void(volts_in&, int exchange)> fault;
    int exchanges{0};

    volts_in exchange(const volts_out& out, seconds tail, std::stop_token stop) override {
        ++exchanges;
        volts_in in;
        in.stopped = stop.stop_requested();
        in.frames_per_second = 48000.0;
        const std::size_t length =
            out.size() + static_cast<std::size_t>(std::lround(tail.value() * 48000.0));
        for (const auto& channel : out.outputs) in.inputs.push_back(delayed(channel, length));
        in.loop = delayed(out.loop, length);
        if (fault) fault(in, exchanges);
        return in;
    }
    void hold(std::span<const volts>) override {}
    [[nodiscard]] sample_rate rate() const override { return sample_rate{48000.0}; }
    [[nodiscard]] std::string description() const override { return "looped"; }

private:
    static std::vector<float> delayed(const std::vector<float>& v, std::size_t length) {
        std::vector<float> out(length, 0.0F);
        for (std::size_t i = 0; i < v.size() && i + latency < length; ++i) out[i + latency] = v[i];
        return out;
    }
};

bench small_bench() {
    bench b;
    b.name = "small";
    b.audio.emplace();
    b.outputs.resize(2);
    b.outputs[0].jack = "pitch";
    b.outputs[1].jack = "gate";
    b.inputs.resize(2);
    b.inputs[0].jack = "left";
    b.inputs[1].jack = "right";
    b.loop.emplace();
    b.loop->output_channel = 3;
    b.loop->input_channel = 3;
    return b;
}

/// One second, the jacks in another order than the bench's.
stimulus one_second() {
    stimulus s;
    s.jacks = {"gate", "pitch"};
    s.volts.resize(2);
    for (int i = 0; i < 48000; ++i) {
        s.volts[0].push_back(i % 9600 < 4800 ? 5.0F : 0.0F);
        s.volts[1].push_back(static_cast<float>(std::sin(0.03 * i)));
    }
    return s;
}

struct played {
    take t;
    int exchanges;
};

played play(const bench& b, std::function<void(volts_in&, int)> fault, int repeats = 0) {
    looped_interface interface;
    interface.fault = std::move(fault);
    audio_link link{interface, b, {.recorded = {"right", "left"}, .stop = {}, .repeats = repeats}};
    auto t = link.play(one_second(), {}, 1, 1);
    return {std::move(t), interface.exchanges};
}

std::vector<std::string> problems(std::function<void(volts_in&, int)> fault) {
    return play(small_bench(), std::move(fault)).t.problems;
}

void drop(std::vector<float>& v, std::size_t at, std::size_t count) {
    v.erase(v.begin() + static_cast<std::ptrdiff_t>(at),
            v.begin() + static_cast<std::ptrdiff_t>(at + count));
    v.resize(v.size() + count, 0.0F);
}

void drop_everywhere(volts_in& in, std::size_t at, std::size_t count) {
    for (auto& v : in.inputs) drop(v, at, count);
    drop(in.loop, at, count);
}

}  // namespace

TEST_CASE("audio link: a whole take begins with the stimulus, jack by jack", "[rig][link]") {
    const auto [t, exchanges] = play(small_bench(), {});
    const auto s = one_second();
    CHECK(t.problems.empty());
    CHECK(exchanges == 1);
    CHECK(t.heard_jacks == std::vector<std::string>{"right", "left"});
    REQUIRE(t.heard.size() == 2);
    CHECK(t.heard[0] == s.volts[0]);  // right hears the second output, the gate
    CHECK(t.heard[1] == s.volts[1]);
    CHECK_THAT(t.log, Contains("latency 14.58 ms (700.00 samples)"));
}

TEST_CASE("audio link: lost samples are counted and placed in the take", "[rig][link]") {
    const auto said = problems([](volts_in& in, int) { drop_everywhere(in, 24000 + latency, 48); });
    REQUIRE(said.size() == 1);
    CHECK(said[0] == "48 samples were lost at 0.500 s.");
}

TEST_CASE("audio link: what the stream reports makes the take bad, once for each place",
          "[rig][link]") {
    using kind = stream_event::kind;
    const auto said = problems([](volts_in& in, int) {
        in.events = {{kind::underrun, 24000 + latency, 0.0},
                     {kind::overrun, 24000 + latency, 0.0},
                     {kind::gap, 36000 + latency, 0.3},
                     {kind::rate_changed, 0, 44100.0}};
    });
    CHECK(said ==
          std::vector<std::string>{"The stream stood still for 300 ms at 0.750 s.",
                                   "The stream ran at 44100.0 Hz instead of 48000 Hz.",
                                   "The driver reports that audio was late or lost at 0.500 s."});
}

TEST_CASE("audio link: a simulated interface is judged by its loop-back alone", "[rig][link]") {
    auto b = small_bench();
    b.audio->simulated = true;
    const auto whole = play(b, [](volts_in& in, int) {
        in.events = {{stream_event::kind::gap, 36000 + latency, 0.3}};
    });
    CHECK(whole.t.problems.empty());
    CHECK_THAT(whole.t.log, Contains("[The stream stood still for 300 ms at 0.750 s.]"));
    const auto broken = play(b, [](volts_in& in, int) { drop_everywhere(in, 24000 + latency, 1); });
    REQUIRE(broken.t.problems.size() == 1);
    CHECK(broken.t.problems[0] == "1 sample was lost at 0.500 s.");
    const auto gone = play(b, [](volts_in& in, int) {
        for (auto& v : in.inputs) v.resize(20000);
        in.loop.resize(20000);
        in.events = {{stream_event::kind::vanished, 20000, 0.0}};
    });
    CHECK(gone.t.problems.size() == 1);
    CHECK(gone.t.heard.empty());
}

TEST_CASE("audio link: a bad take is played again at most twice, and the log keeps why",
          "[rig][link]") {
    const auto healed = play(
        small_bench(),
        [](volts_in& in, int n) {
            if (n < 3) drop_everywhere(in, 24000 + latency, 5);
        },
        2);
    CHECK(healed.exchanges == 3);
    CHECK(healed.t.problems.empty());
    CHECK_THAT(healed.t.log,
               Contains("[played again, because of: 5 samples were lost at 0.500 s.]"));
    const auto lasting = play(
        small_bench(), [](volts_in& in, int) { drop_everywhere(in, 24000 + latency, 5); }, 2);
    CHECK(lasting.exchanges == 3);
    CHECK(lasting.t.problems == std::vector<std::string>{"5 samples were lost at 0.500 s."});
}

TEST_CASE("audio link: an input at full scale is named", "[rig][link]") {
    const auto said = problems([](volts_in& in, int) {
        for (std::size_t i = 12000; i < 12100; ++i) in.inputs[0][i + latency] = 10.0F;
    });
    REQUIRE(said.size() == 1);
    CHECK(said[0] ==
          "Jack 'left' overloads its input: 100 samples are at full scale (10 V), the first at "
          "0.250 s; attenuate it.");
    // One or two samples may be a peak that just reaches it.
    CHECK(problems([](volts_in& in, int) { in.inputs[0][20000] = 10.0F; }).empty());
}

TEST_CASE("audio link: a loop-back whose gain changes is seen, an odd one is not judged",
          "[rig][link]") {
    looped_interface interface;
    double gain = 0.8;
    interface.fault = [&](volts_in& in, int) {
        for (float& v : in.loop) v *= static_cast<float>(gain);
    };
    const auto b = small_bench();
    audio_link link{interface, b, {.recorded = {"left"}, .stop = {}, .repeats = 0}};
    CHECK(link.play(one_second(), {}, 1, 1).problems.empty());
    gain = 0.8 * 1.005;
    CHECK(link.play(one_second(), {}, 2, 1).problems.empty());
    gain = 0.8 * 1.02;
    const auto changed = link.play(one_second(), {}, 3, 1);
    REQUIRE(changed.problems.size() == 1);
    CHECK_THAT(changed.problems[0], Contains("The gain of the loop-back changed by +2.0 %"));
}

TEST_CASE("audio link: a loop-back without a cable is told by its channels", "[rig][link]") {
    const auto said = problems([](volts_in& in, int) {
        for (float& v : in.loop) v = 0.0F;
    });
    REQUIRE(said.size() == 1);
    CHECK_THAT(said[0], Contains("Nothing that was sent through the loop-back cable came back "
                                 "(output channel 3, input channel 3)"));
}

TEST_CASE("audio link: without a loop-back the latency must be known", "[rig][link]") {
    auto b = small_bench();
    b.loop.reset();
    const auto unknown = play(b, {});
    REQUIRE(unknown.t.problems.size() == 1);
    CHECK_THAT(unknown.t.problems[0], Contains("The latency of the interface is not known"));

    b.audio->round_trip = seconds{latency / 48000.0};
    const auto known = play(b, {});
    CHECK(known.t.problems.empty());
    CHECK(known.t.heard[1] == one_second().volts[1]);

    b.audio->round_trip.reset();
    looped_interface interface;
    audio_link link{interface, b, {.recorded = {"left"}, .stop = {}, .repeats = 0}};
    link.use_latency(seconds{latency / 48000.0});
    CHECK(link.play(one_second(), {}, 1, 1).heard[0] == one_second().volts[1]);
}

TEST_CASE("audio link: a stop ends it without another attempt", "[rig][link]") {
    looped_interface interface;
    std::stop_source source;
    source.request_stop();
    const auto b = small_bench();
    audio_link link{interface, b, {.recorded = {"left"}, .stop = source.get_token()}};
    const auto t = link.play(one_second(), {}, 1, 1);
    CHECK(t.problems == std::vector<std::string>{"The take was stopped before its end."});
    CHECK(interface.exchanges == 1);
}
