#include <catch2/catch.hpp>
#include <cmath>
#include <csignal>
#include <thread>

#include "tests/support/jack_bench.hpp"

using namespace cvrig;
using namespace cvrig::test;

namespace {

// The first output's 0 V is the sample -0.05 (full scale 10 V, offset 0.5 V), its 3 V 0.25; the
// second's are 0 and -0.2.
struct output {
    float held, rest;
};
constexpr output first{0.25F, -0.05F};
constexpr output second{-0.2F, 0.0F};

std::string offset_bench(const jack_bench& server) {
    const auto file = server.folder() / "ending.bench.yaml";
    auto text = jack_bench::bench_text();
    const std::string jack = "{jack: a, ";
    text.insert(text.find(jack) + jack.size(), "offset: 0.5 V, ");
    write_file_atomically(file, text);
    return file.string();
}

/// How the last stretch of a held level ended.
struct ending {
    std::size_t ramp_frames{0};   ///< from the held level to rest
    std::size_t rest_frames{0};   ///< at rest before the stream was gone
    double worst_departure{0.0};  ///< from a straight line, in samples
};

ending ending_of(const std::vector<float>& heard, const output& o) {
    ending out;
    std::size_t i = heard.size();
    while (i > 0 && heard[i - 1] != o.held) --i;
    const std::size_t begin = i;
    while (i < heard.size() && heard[i] != o.rest) ++i;
    out.ramp_frames = i - begin + 1;
    for (std::size_t k = begin; k < i; ++k) {
        const double share =
            static_cast<double>(k - begin + 1) / static_cast<double>(out.ramp_frames);
        const double line = o.held + (o.rest - o.held) * share;
        out.worst_departure = std::max(out.worst_departure, std::abs(heard[k] - line));
    }
    while (i + out.rest_frames < heard.size() && heard[i + out.rest_frames] == o.rest)
        ++out.rest_frames;
    return out;
}

void check_ramps(const std::vector<std::vector<float>>& heard) {
    const auto a = ending_of(heard[0], first);
    const auto b = ending_of(heard[1], second);
    CAPTURE(a.ramp_frames, a.rest_frames, b.ramp_frames);
    CHECK(a.ramp_frames == 480);  // 10 ms at 48 kHz
    CHECK(b.ramp_frames == 480);
    CHECK(a.worst_departure < 1e-6);  // some roundings of a float
    CHECK(b.worst_departure < 1e-6);
    CHECK(a.rest_frames > 0);  // 0 V, not the 0 of a cable without a stream
}

}  // namespace

TEST_CASE("live: however the rig ends, its outputs ramp to 0 V in 10 ms", "[live]") {
    struct way {
        std::string name;
        int signal, status;
    };
    const auto w =
        GENERATE(way{"normal", 0, 0}, way{"error", 0, 2}, way{"uncaught", 0, -SIGABRT},
                 way{"uncaught on another thread", 0, -SIGABRT}, way{"signal", SIGINT, 0},
                 way{"signal", SIGTERM, 0}, way{"signal", SIGHUP, 0},
                 way{"signal in a take", SIGINT, 0}, way{"signal in a take", SIGTERM, 0});
    CAPTURE(w.name, w.signal);
    jack_bench server{"48000", false};  // one that waits would wait for the dead
    child rig{{CVRIG_WAYS_TO_END, offset_bench(server), w.name}};
    REQUIRE(rig.wait_for("holding"));
    if (w.signal != 0) {
        std::this_thread::sleep_for(std::chrono::milliseconds{200});
        rig.signal(w.signal);
    }
    CHECK(rig.wait_for_end() == w.status);
    CAPTURE(rig.said());
    check_ramps(server.heard());
}

TEST_CASE("live: SIGKILL leaves no ramp, and the server lets the outputs drop", "[live]") {
    // What the rig cannot help; the test keeps its description true.
    jack_bench server{"48000", false};  // one that waits would wait for the dead
    child rig{{CVRIG_WAYS_TO_END, offset_bench(server), "signal"}};
    REQUIRE(rig.wait_for("holding"));
    std::this_thread::sleep_for(std::chrono::milliseconds{200});
    rig.signal(SIGKILL);
    CHECK(rig.wait_for_end() == -SIGKILL);
    std::this_thread::sleep_for(std::chrono::milliseconds{300});
    const auto heard = server.heard();
    REQUIRE_FALSE(heard[0].empty());
    std::size_t last = heard[0].size();
    while (last > 0 && heard[0][last - 1] != first.held) --last;
    CAPTURE(last, heard[0].size());
    REQUIRE(last > 0);
    if (last < heard[0].size()) CHECK(heard[0][last] == 0.0F);  // the sample, not the voltage
}
