#include "demo/render.hpp"
#include "playing.hpp"

#include <catch2/catch.hpp>
#include <cmath>

using Catch::Matchers::WithinAbs;
using ferrule::jack;

namespace {

ferrule::sound tune() {
    playing::score score{0.5};
    score.set(jack::pitch, 0.0, 1.0).gate(0.05, 0.4).set(jack::slide, 0.2, 5.0);
    return score.set(jack::pitch, 0.2, 2.0).stimulus();
}

}  // namespace

TEST_CASE("the sound does not depend on how many frames the host hands over", "[demo]") {
    const auto stimulus = tune();
    const auto plan = playing::calibrated(3);
    const auto whole = ferrule::render(stimulus, plan, {});
    const auto chunk = GENERATE(std::size_t{1}, 7U, 24U, 64U, 1000U);
    CAPTURE(chunk);
    std::vector<float> pieces(whole.samples.size());
    ferrule::host host{plan, {}, ferrule::jack_count};
    for (std::size_t frame = 0; frame < stimulus.frames(); frame += chunk) {
        const auto count = std::min(chunk, stimulus.frames() - frame);
        host.process(std::span{stimulus.samples}.subspan(frame * ferrule::jack_count,
                                                         count * ferrule::jack_count),
                     std::span{pieces}.subspan(frame * 2, count * 2));
    }
    CHECK(pieces == whole.samples);
}

TEST_CASE("a gate sounds one to two blocks after it rises", "[demo]") {
    for (std::size_t rise = 4800; rise < 4800 + ferrule::block_frames; ++rise) {
        playing::score score{0.2};
        score.gate(static_cast<double>(rise) / 48000.0 + 1e-9, 0.2).set(jack::pitch, 0.0, 4.0);
        const auto heard = ferrule::render(score.stimulus(), playing::calibrated(1), {});
        const auto before = playing::channel(heard, 0, 0.0, 0.09);
        std::size_t first = 0;
        // Noise is 0.1 mV, so 2 mV above the resting level is sound.
        while (std::abs(static_cast<double>(heard.samples[first * 2]) - playing::mean(before)) <
               0.002) {
            ++first;
        }
        CAPTURE(rise, first);
        CHECK(first - rise > ferrule::block_frames);
        // The filter needs a few samples more to let anything through.
        CHECK(first - rise <= ferrule::block_latency_frames + 12);
    }
}

TEST_CASE("jacks that no channel drives are at 0 V, and outputs come as ordered", "[demo]") {
    const auto stimulus = tune();
    ferrule::sound two{stimulus.rate_hertz, 2, {}};
    for (std::size_t frame = 0; frame < stimulus.frames(); ++frame) {
        two.samples.push_back(stimulus.samples[frame * ferrule::jack_count + 1]);
        two.samples.push_back(stimulus.samples[frame * ferrule::jack_count]);
    }
    ferrule::wiring wires{{jack::gate, jack::pitch}, {ferrule::output::right}};
    const auto heard = ferrule::render(two, playing::calibrated(1), wires);
    CHECK(heard.channels == 1);
    CHECK(heard.frames() == stimulus.frames());
    const auto wave = playing::channel(heard, 0, 0.1, 0.19);
    CHECK_THAT(playing::cents_above(playing::frequency_hertz(wave, 48000.0), 1.0),
               WithinAbs(0.0, 1.0));
}

// Both outputs carry the same voice; 0.02 dB is a ratio of 1.0023, and DC stays within 5 mV.
TEST_CASE("left and right differ by no more than their output stages", "[demo]") {
    for (std::uint32_t unit = 1; unit <= 20; ++unit) {
        CAPTURE(unit);
        const auto heard = ferrule::render(tune(), playing::calibrated(unit), {});
        const auto left = playing::channel(heard, 0, 0.1, 0.19);
        const auto right = playing::channel(heard, 1, 0.1, 0.19);
        CHECK_THAT(20.0 * std::log10(playing::rms(left) / playing::rms(right)),
                   WithinAbs(0.0, 0.025));
        CHECK_THAT(playing::mean(playing::channel(heard, 0, 0.0, 0.05)), WithinAbs(0.0, 0.005));
    }
}
