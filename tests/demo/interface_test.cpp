#include "demo/interface/channel_path.hpp"
#include "demo/interface/desk.hpp"
#include "demo/user_mistake.hpp"
#include "playing.hpp"

#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>
#include <string>
#include <vector>

using Catch::Matchers::WithinAbs;

namespace {

constexpr double rate_hertz = 48000.0;

/// What channel 3 gives when it gets this; the channel before it holds 1 V, all others 0 V.
std::vector<double> through(const std::string& fault, const std::vector<double>& sent) {
    ferrule::desk_faults faults;
    if (!fault.empty()) ferrule::add_desk_fault(faults, fault);
    ferrule::channel_path path{rate_hertz, 1};
    path.set(faults.of(ferrule::desk_side::out, 2));
    std::vector<double> heard;
    for (const double volts : sent) {
        const std::array<double, ferrule::desk_channels> all{0.0, 1.0, volts};
        heard.push_back(path.next(all, 2));
    }
    return heard;
}

std::vector<double> held(double volts, double seconds) {
    return std::vector<double>(static_cast<std::size_t>(seconds * rate_hertz), volts);
}

/// 0 V for a tenth of a second, then a counter of 1 mV a sample.
std::vector<double> counter(double seconds) {
    auto ramp = held(0.0, seconds);
    for (std::size_t i = 4800; i < ramp.size(); ++i) {
        ramp[i] = 0.001 * static_cast<double>(i - 4800);
    }
    return ramp;
}

std::vector<double> sine(double hertz, double seconds) {
    auto wave = held(0.0, seconds);
    for (std::size_t i = 0; i < wave.size(); ++i) {
        wave[i] = std::sin(2.0 * std::numbers::pi * hertz * static_cast<double>(i) / rate_hertz);
    }
    return wave;
}

/// Peak of one frequency in a stretch of whole periods.
double amplitude(const std::vector<double>& wave, double hertz) {
    double re = 0.0;
    double im = 0.0;
    for (std::size_t i = 0; i < wave.size(); ++i) {
        const double angle = 2.0 * std::numbers::pi * hertz * static_cast<double>(i) / rate_hertz;
        re += wave[i] * std::cos(angle);
        im += wave[i] * std::sin(angle);
    }
    return 2.0 * std::hypot(re, im) / static_cast<double>(wave.size());
}

/// Places where a counter does not go on by one, with how many samples it jumps.
std::vector<std::pair<std::size_t, double>> jumps(const std::vector<double>& heard) {
    std::vector<std::pair<std::size_t, double>> found;
    for (std::size_t i = 4802; i < heard.size(); ++i) {
        const double step = (heard[i] - heard[i - 1]) / 0.001;
        if (heard[i - 1] > 0.0005 && std::abs(step - 1.0) > 0.5) found.emplace_back(i, step - 1.0);
    }
    return found;
}

}  // namespace

TEST_CASE("a good interface passes every bit", "[demo][interface]") {
    const auto sent = sine(1000.0, 0.1);
    CHECK(through("", sent) == sent);
    CHECK(through("gain:0", sent) == sent);
}

TEST_CASE("a level fault changes the level by what it says", "[demo][interface]") {
    struct row {
        const char* fault;
        double volts;
    };
    // 2 V in; the neighbour has 1 V.
    const auto tried =
        GENERATE(row{"gain:-10", 1.8}, row{"inverted:1", -2.0}, row{"cold-leg-shorted:1", 1.0},
                 row{"crosstalk:5", 2.05}, row{"offset:0.1", 2.1}, row{"clip:1.5", 1.5});
    CAPTURE(tried.fault);
    // Rounding of doubles.
    CHECK_THAT(through(tried.fault, held(2.0, 0.01)).back(), WithinAbs(tried.volts, 1e-12));
    if (std::string{tried.fault} == "clip:1.5") {
        CHECK_THAT(through(tried.fault, held(-2.0, 0.01)).back(), WithinAbs(-1.5, 1e-12));
    }
}

TEST_CASE("a soft mixer adds the other channels and a foreign tone", "[demo][interface]") {
    const auto heard = through("mixer:10", held(2.0, 1.0));
    // 440 periods, so that the tone's mean is nothing; rounding over 48000 samples.
    CHECK_THAT(playing::mean(heard), WithinAbs(2.1, 1e-9));
    CHECK_THAT(amplitude(heard, 440.0), WithinAbs(0.1, 1e-9));
}

TEST_CASE("a coupling capacitor lets a held voltage die away", "[demo][interface]") {
    const auto heard = through("ac-coupled:0.1", held(1.0, 0.5));
    // First-order: exp(-t / time constant); one sample of uncertainty about when it begins.
    for (const double t : {0.05, 0.1, 0.3}) {
        CHECK_THAT(heard[static_cast<std::size_t>(t * rate_hertz)],
                   WithinAbs(std::exp(-t / 0.1), 0.0003));
    }
    // And a fast signal passes; a sample of 1 / 48000 s is 0.02 % of the time constant.
    CHECK_THAT(amplitude(through("ac-coupled:0.1", sine(1000.0, 1.0)), 1000.0),
               WithinAbs(1.0, 0.0003));
}

TEST_CASE("hum is 50 Hz with its harmonics, and hiss has its level", "[demo][interface]") {
    const auto hum = through("hum:0.1", held(0.0, 1.0));
    CHECK_THAT(amplitude(hum, 50.0), WithinAbs(0.1, 1e-9));
    CHECK_THAT(amplitude(hum, 100.0), WithinAbs(0.05, 1e-9));
    CHECK_THAT(amplitude(hum, 150.0), WithinAbs(0.025, 1e-9));
    // 48000 samples: their rms scatters by 1 / sqrt(96000), a third of a percent.
    CHECK_THAT(playing::rms(through("noise:0.01", held(0.0, 1.0))), WithinAbs(0.01, 0.0002));
}

TEST_CASE("a delay is whole samples", "[demo][interface]") {
    const auto sent = counter(0.2);
    const auto heard = through("delay:100", sent);
    for (std::size_t i = 100; i < sent.size(); ++i) REQUIRE(heard[i] == sent[i - 100]);
}

TEST_CASE("lost and repeated samples come when and as many as said", "[demo][interface]") {
    SECTION("lost once a second") {
        const auto found = jumps(through("drop:64", counter(3.5)));
        REQUIRE(found.size() == 3);
        for (std::size_t i = 0; i < 3; ++i) {
            CHECK_THAT(found[i].second, WithinAbs(64.0, 0.001));
            CHECK(found[i].first == 47999 + i * 48000);
        }
    }
    SECTION("repeated once a second") {
        const auto found = jumps(through("repeat:64", counter(2.5)));
        REQUIRE(found.size() == 2);
        CHECK_THAT(found[0].second, WithinAbs(-64.0, 0.001));
    }
    SECTION("once, half a second after the channel has moved by 50 mV") {
        const auto kind = GENERATE("drop-once:100", "repeat-once:100");
        const auto found = jumps(through(kind, counter(3.0)));
        REQUIRE(found.size() == 1);
        CHECK_THAT(std::abs(found[0].second), WithinAbs(100.0, 0.001));
        CHECK(found[0].first == 4800 + 50 + 24000);
    }
}

TEST_CASE("a resampler plays at another rate", "[demo][interface]") {
    // 44.1 kHz material at 48 kHz would be 8.8 % sharp; a rate that is too low by 1 / 1.0884 plays
    // 0.91875 times as fast: the ratio of the two rates.
    const double ppm = GENERATE(900.0, -900.0, -81250.0);
    CAPTURE(ppm);
    const auto heard = through("resample:" + std::to_string(ppm), sine(1000.0, 3.0));
    const std::vector<double> steady(heard.end() - 48000, heard.end());
    CHECK_THAT(playing::frequency_hertz(steady, rate_hertz),
               WithinAbs(1000.0 * (1.0 + ppm * 1e-6), 0.01));
    CHECK_THAT(*std::max_element(steady.begin(), steady.end()), WithinAbs(1.0, 0.005));
}

TEST_CASE("a resampler rings at an edge", "[demo][interface]") {
    auto gate = held(0.0, 3.0);
    std::fill(gate.begin() + 120007, gate.end(), 5.0);
    const auto heard = through("resample:900", gate);
    const auto most = *std::max_element(heard.begin(), heard.end());
    // The ripple of a band-limited step is up to 9 % (Gibbs); the rounded window leaves some of it.
    CHECK(most > 5.1);
    CHECK(most < 5.45);
}

TEST_CASE("a fault can be for one channel of one side", "[demo][interface]") {
    ferrule::desk_faults faults;
    ferrule::add_desk_fault(faults, "gain@out_3:-10");
    ferrule::add_desk_fault(faults, "hum@in:0.2");
    const auto gain = static_cast<std::size_t>(ferrule::desk_fault::gain);
    const auto hum = static_cast<std::size_t>(ferrule::desk_fault::hum);
    for (std::size_t i = 0; i < ferrule::desk_channels; ++i) {
        CHECK(faults.of(ferrule::desk_side::out, i)[gain] == (i == 2 ? -10.0 : 0.0));
        CHECK(faults.of(ferrule::desk_side::in, i)[gain] == 0.0);
        CHECK(faults.of(ferrule::desk_side::in, i)[hum] == 0.2);
        CHECK(faults.of(ferrule::desk_side::out, i)[hum] == 0.0);
    }
    for (const auto* text : {"wobble:1", "gain", "gain@out_9:1", "gain@left:1", "gain:loud"}) {
        CAPTURE(text);
        CHECK_THROWS_AS(ferrule::add_desk_fault(faults, text), ferrule::user_mistake);
    }
}

// Half of full scale is 5 V at a socket; the sockets' side counts in volts.
TEST_CASE("sockets carry volts, and faults come with the next block", "[demo][interface]") {
    ferrule::desk desk{10.0, rate_hertz};
    constexpr std::size_t frames = 4;
    constexpr std::size_t ports = 2 * ferrule::desk_channels;
    std::array<std::array<float, frames>, ports> in{};
    std::array<std::array<float, frames>, ports> out{};
    std::array<const float*, ports> from{};
    std::array<float*, ports> to{};
    for (std::size_t i = 0; i < ports; ++i) {
        from[i] = in[i].data();
        to[i] = out[i].data();
    }
    in[0].fill(0.5F);                       // playback_1
    in[ferrule::desk_channels].fill(3.0F);  // in_1
    desk.process(frames, from, to);
    CHECK(out[ferrule::desk_channels][0] == 5.0F);
    CHECK(out[0][0] == 0.3F);
    // One memory for a socket and the socket that a cable joins it with.
    from[ferrule::desk_channels] = to[ferrule::desk_channels];
    out[ferrule::desk_channels].fill(2.0F);
    desk.process(frames, from, to);
    CHECK(out[0][frames - 1] == 0.2F);
    CHECK(out[ferrule::desk_channels][frames - 1] == 5.0F);
}

TEST_CASE("the ports that face the computer are the first", "[demo][interface]") {
    const auto face = ferrule::desk_face("", "desk");
    REQUIRE(face.inputs.size() == 16);
    REQUIRE(face.outputs.size() == 16);
    CHECK(face.inputs[0] == "playback_1");
    CHECK(face.inputs[7] == "playback_8");
    CHECK(face.inputs[8] == "in_1");
    CHECK(face.outputs[0] == "capture_1");
    CHECK(face.outputs[8] == "out_1");
}
