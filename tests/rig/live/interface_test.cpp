#include <catch2/catch.hpp>
#include <cmath>
#include <thread>

#include "rig/link/rt_audio_interface.hpp"
#include "tests/support/jack_bench.hpp"

using namespace cvrig;
using namespace cvrig::test;

namespace {

volts_out half_second() {
    volts_out out;
    out.outputs.resize(2);
    for (int i = 0; i < 24000; ++i) {
        out.outputs[0].push_back(static_cast<float>(2.0 * std::sin(0.05 * i)));
        out.outputs[1].push_back(i < 12000 ? 0.0F : 3.0F);
    }
    out.loop.assign(24000, 0.5F);
    return out;
}

}  // namespace

TEST_CASE("live: what goes out comes back, sample by sample", "[live]") {
    jack_bench server;
    const auto b = server.read();
    rt_audio_interface desk{b};
    CHECK(desk.description() == "desk (JACK), 8 out, 8 in, 48 kHz, blocks of 256");
    const auto out = half_second();
    const auto in = desk.exchange(out, seconds{0.1}, {});
    for (const auto& e : in.events)
        UNSCOPED_INFO(int(e.what) << " at " << e.frame << " " << e.size);
    CAPTURE(in.frames_per_second, in.u_frames_per_second);
    REQUIRE(in.inputs.size() == 2);
    REQUIRE(in.size() == 24000 + 4800);
    std::size_t latency = 0;
    while (latency < 4000 && in.inputs[1][12000 + latency] < 1.5F) ++latency;
    CAPTURE(latency);
    double worst = 0.0;
    for (std::size_t c = 0; c < 2; ++c)
        for (std::size_t i = 0; i < 24000; ++i)
            worst =
                std::max(worst, std::abs(double{in.inputs[c][i + latency]} - out.outputs[c][i]));
    CHECK(worst < 1e-6);
}
