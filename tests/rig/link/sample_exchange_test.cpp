#include "rig/link/sample_exchange.hpp"

#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <thread>

#include "tests/rig/link/fake_stream.hpp"

using namespace cvrig;
using namespace cvrig::test;
using Catch::Matchers::WithinAbs;
using namespace std::chrono_literals;

namespace {

/// Everything that the outputs did.
struct heard_outputs {
    std::vector<float> first, second, unused;

    void add(const fake_stream& s) {
        first.insert(first.end(), s.out(1), s.out(1) + s.frames());
        second.insert(second.end(), s.out(0), s.out(0) + s.frames());
        unused.insert(unused.end(), s.out(3), s.out(3) + s.frames());
    }
};

float largest_step(const std::vector<float>& v) {
    float worst = 0.0F;
    for (std::size_t i = 1; i < v.size(); ++i) worst = std::max(worst, std::abs(v[i] - v[i - 1]));
    return worst;
}

void fill_with_ramp(exchange_job& job) {
    job.play.write(job.frames, [&](std::size_t c, std::size_t i) {
        return (c == 0 ? 0.5F : -0.5F) + 1e-5F * static_cast<float>(i);
    });
}

}  // namespace

TEST_CASE("sample exchange: outputs rest at the samples of 0 V, unused channels at 0",
          "[rig][link]") {
    sample_exchange exchange{small_layout()};
    fake_stream stream{exchange, 64};
    heard_outputs heard;
    for (int i = 0; i < 3; ++i) {
        stream.block();
        heard.add(stream);
    }
    CHECK(heard.first == std::vector<float>(192, 0.0F));
    CHECK(heard.second == std::vector<float>(192, 0.01F));
    CHECK(heard.unused == std::vector<float>(192, 0.0F));
}

TEST_CASE("sample exchange: a held level is reached in 10 ms by a straight ramp", "[rig][link]") {
    sample_exchange exchange{small_layout()};
    fake_stream stream{exchange, 100};
    const std::array levels{0.48F, 0.01F};
    exchange.hold(levels);
    CHECK_FALSE(exchange.is_settled());
    heard_outputs heard;
    for (int i = 0; i < 6; ++i) {
        stream.block();
        heard.add(stream);
    }
    CHECK(exchange.is_settled());
    // 480 frames at 48 kHz: 0.001 each; the tolerance is some roundings of a float.
    for (std::size_t i = 0; i < 480; ++i)
        CHECK_THAT(heard.first[i], WithinAbs(0.001 * static_cast<double>(i + 1), 2e-7));
    CHECK(heard.first[480] == 0.48F);
    CHECK(heard.second == std::vector<float>(600, 0.01F));
}

TEST_CASE("sample exchange: what comes back was recorded with what went out", "[rig][link]") {
    const std::size_t block = GENERATE(std::size_t{32}, 97u, 256u, 4096u);
    sample_exchange exchange{small_layout()};
    fake_stream stream{exchange, block};
    exchange_job job{{2, 2, 5000, 6000}, 5000, 1000};
    fill_with_ramp(job);
    exchange.start(job);
    for (int i = 0; i < 8000 && !job.finished; ++i) {
        // A cable without delay cannot be: here each block hears what the one before it sent.
        std::copy_n(stream.out(1), block, stream.in(0));
        std::copy_n(stream.out(0), block, stream.in(2));
        stream.block();
    }
    REQUIRE(job.finished);
    REQUIRE(job.record.filled() == 6000);
    std::vector<std::vector<float>> back(2);
    job.record.read(6000, [&](std::size_t c, std::size_t, float v) { back[c].push_back(v); });
    for (std::size_t i = 0; i < 5000 && i + block < 6000; ++i) {
        REQUIRE(back[0][i + block] == 0.5F + 1e-5F * static_cast<float>(i));
        REQUIRE(back[1][i + block] == -0.5F + 1e-5F * static_cast<float>(i));
    }
    CHECK(job.event_count == 0);
}

TEST_CASE("sample exchange: no change of level outside the stimulus is a step", "[rig][link]") {
    sample_exchange exchange{small_layout()};
    fake_stream stream{exchange, 128};
    exchange_job job{{2, 2, 5000, 6000}, 5000, 1000};
    fill_with_ramp(job);
    exchange.start(job);
    heard_outputs heard;
    for (int i = 0; i < 80; ++i) {
        stream.block();
        heard.add(stream);
    }
    CHECK(job.finished);
    CHECK(largest_step(heard.first) < 0.56F / 480.0F + 1e-5F);
    CHECK(largest_step(heard.second) < 0.56F / 480.0F + 1e-5F);
    CHECK(heard.first.back() == 0.0F);
    CHECK(heard.second.back() == 0.01F);
}

TEST_CASE("sample exchange: a stop ramps to 0 V from wherever it is, and that is the end",
          "[rig][link]") {
    const int blocks_before = GENERATE(0, 1, 5, 20, 45, 60);
    sample_exchange exchange{small_layout()};
    fake_stream stream{exchange, 128};
    const std::array levels{0.3F, -0.4F};
    exchange.hold(levels);
    for (int i = 0; i < 10; ++i) stream.block();
    exchange_job job{{2, 2, 5000, 6000}, 5000, 1000};
    fill_with_ramp(job);
    exchange.start(job);
    heard_outputs heard;
    for (int i = 0; i < blocks_before; ++i) {
        stream.block();
        heard.add(stream);
    }
    exchange.stop();
    for (int i = 0; i < 4; ++i) {
        stream.block();
        heard.add(stream);
    }
    CHECK(exchange.is_silent());
    CHECK(heard.first.back() == 0.0F);
    CHECK(heard.second.back() == 0.01F);
    CHECK(largest_step(heard.first) < 1.0F / 480.0F);
    exchange.hold(levels);
    stream.block();
    CHECK(stream.out(1)[127] == 0.0F);
}

TEST_CASE("sample exchange: what the driver and the clock say has its place in the take",
          "[rig][link]") {
    sample_exchange exchange{small_layout()};
    fake_stream stream{exchange, 480};
    exchange_job job{{2, 2, 9600, 10000}, 9600, 400};
    fill_with_ramp(job);
    exchange.start(job);
    stream.block({true, true});  // while it ramps to the first level: not a part of the take
    for (int i = 0; i < 3; ++i) stream.block();
    stream.block({true, false});
    stream.block({false, true});
    stream.late_by(300ms);
    stream.block();
    while (!job.finished) stream.block();
    REQUIRE(job.event_count == 3);
    CHECK(job.events[0].what == stream_event::kind::underrun);
    CHECK(job.events[0].frame == 3 * 480);
    CHECK(job.events[1].what == stream_event::kind::overrun);
    CHECK(job.events[1].frame == 4 * 480);
    CHECK(job.events[2].what == stream_event::kind::gap);
    CHECK(job.events[2].frame == 5 * 480);
    CHECK_THAT(job.events[2].size, WithinAbs(0.310, 1e-6));
}

TEST_CASE("sample exchange: events beyond the room for them are counted", "[rig][link]") {
    sample_exchange exchange{small_layout()};
    fake_stream stream{exchange, 32};
    exchange_job job{{2, 2, 32 * 300, 32 * 300}, 32 * 300, 0};
    fill_with_ramp(job);
    exchange.start(job);
    while (!job.finished) stream.block({true, false});
    CHECK(job.event_count == exchange_job::most_events);
    CHECK(job.untold_events == 300 - exchange_job::most_events);
}

TEST_CASE("sample exchange: a starved stream holds its level and says so", "[rig][link]") {
    sample_exchange exchange{small_layout()};
    fake_stream stream{exchange, 480};
    exchange_job job{{2, 2, 100, 2000}, 1000, 0};
    job.play.write(100, [](std::size_t, std::size_t) { return 0.5F; });
    exchange.start(job);
    for (int i = 0; i < 3; ++i) stream.block();
    CHECK(stream.out(1)[479] == 0.5F);
    REQUIRE(job.event_count > 0);
    CHECK(job.events[0].what == stream_event::kind::starved);
    CHECK(job.events[0].frame == 100);
}

TEST_CASE("rate fit: a clean clock is read to its digits, a jittery one within its uncertainty",
          "[rig][link]") {
    rate_fit clean;
    rate_fit jittery;
    const steady_time begin{};
    for (int i = 0; i < 1000; ++i) {
        const double t = 256.0 * i / 48001.2;
        const double late = 1e-3 * static_cast<double>((i * 7919) % 1000) / 1000.0;
        const auto at = [&](double s) {
            return begin + std::chrono::nanoseconds{std::llround(1e9 * s)};
        };
        clean.add(256.0 * i, at(t));
        jittery.add(256.0 * i, at(t + late));
    }
    // A nanosecond in 5 s.
    CHECK_THAT(clean.frames_per_second(), WithinAbs(48001.2, 1e-4));
    CHECK(jittery.u_frames_per_second() > 0.0);
    CHECK(std::abs(jittery.frames_per_second() - 48001.2) < 4.0 * jittery.u_frames_per_second());
    CHECK(rate_fit{}.frames_per_second() == 0.0);
}
