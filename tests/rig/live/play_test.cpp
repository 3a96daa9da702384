#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <csignal>
#include <thread>

#include "rig/stimulus/wave_file.hpp"
#include "tests/support/jack_bench.hpp"

using namespace cvrig;
using namespace cvrig::test;
using Catch::Matchers::Contains;

namespace {

recording two_channels(double length_s) {
    recording r{sample_rate{48000.0}, std::vector<std::vector<float>>(2)};
    for (int i = 0; i < static_cast<int>(48000.0 * length_s); ++i) {
        r.channels[0].push_back(static_cast<float>(4.9 * std::sin(0.05 * i)));
        r.channels[1].push_back(static_cast<float>(std::sin(0.003 * i)));
    }
    return r;
}

std::vector<std::string> play(const jack_bench& server, const recording& r) {
    const auto& folder = server.folder();
    (void)server.read(", simulated: yes");
    write_wave_file(folder / "stimulus.wav", r);
    return {CVRIG_PROGRAM,
            "play",
            (folder / "stimulus.wav").string(),
            (folder / "response.wav").string(),
            "--bench",
            (folder / "loop.bench.yaml").string()};
}

}  // namespace

TEST_CASE("live: a file is played and its answer recorded to the sample", "[live]") {
    jack_bench server;
    const auto sent = two_channels(0.5);
    child rig{play(server, sent)};
    CHECK(rig.wait_for_end() == 0);
    CAPTURE(rig.said());
    CHECK_THAT(rig.said(), Contains("Playing through desk (JACK), 8 out, 8 in, 48 kHz"));
    CHECK_THAT(rig.said(), Contains("Keep loudspeakers and headphones away"));
    const auto back = read_wave_file(server.folder() / "response.wav", 2);
    REQUIRE(back.size() == sent.size());
    double worst = 0.0;
    for (std::size_t c = 0; c < 2; ++c)
        for (std::size_t i = 0; i < sent.size(); ++i)
            worst = std::max(worst, std::abs(double{back.channels[c][i]} - sent.channels[c][i]));
    CHECK(worst < 1e-6);  // some roundings of a float below 5 V
}

TEST_CASE("live: a file with one volt too many never sounds", "[live]") {
    jack_bench server;
    auto sent = two_channels(0.5);
    sent.channels[1][23000] = 5.01F;
    child rig{play(server, sent)};
    CHECK(rig.wait_for_end() == 2);
    CHECK_THAT(rig.said(), Contains("Jack 'b' would get 5.01 V at 0.479 s, but its output is "
                                    "limited to -5 V to 5 V; nothing was played."));
    const auto heard = server.heard();
    CHECK(std::ranges::all_of(heard[1], [](float v) { return v == 0.0F; }));
}

TEST_CASE("live: a file whose server dies ends with 3, one sentence, and no noise of libraries",
          "[live]") {
    jack_bench server;
    child rig{play(server, two_channels(20.0))};
    REQUIRE(rig.wait_for("Playing through"));
    std::this_thread::sleep_for(std::chrono::milliseconds{300});
    server.kill_server();
    CHECK(rig.wait_for_end() == 3);
    CHECK_THAT(rig.said(), Contains("The audio interface or its server was gone at "));
    CHECK_THAT(rig.said(), !Contains("RtApi") && !Contains("Cannot") && !Contains("JackClient"));
}
