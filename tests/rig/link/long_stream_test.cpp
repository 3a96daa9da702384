#include <atomic>
#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <string>
#include <thread>

#include "rig/link/exchange_feeder.hpp"
#include "tests/rig/link/fake_stream.hpp"

using namespace cvrig;
using namespace cvrig::test;

namespace {

/// Resident memory of this process (proc(5), VmRSS).
std::size_t resident_kb() {
    std::ifstream status{"/proc/self/status"};
    for (std::string line; std::getline(status, line);)
        if (line.starts_with("VmRSS:")) return std::stoul(line.substr(6));
    return 0;
}

volts_layout two_by_two() {
    volts_layout out;
    channel_trim inverting;
    inverting.volts_per_full_scale = -8.0;
    inverting.offset = volts{0.01};
    out.outputs = {{{}, volts{-5.0}, volts{5.0}, "a"}, {inverting, volts{-5.0}, volts{5.0}, "b"}};
    out.inputs = {{}, inverting};
    return out;
}

float value_at(std::size_t c, std::size_t frame) {
    return static_cast<float>(frame % 4801) * 1e-3F * (c == 0 ? 1.0F : -1.0F);
}

}  // namespace

// The address sanitizer keeps up to 256 MB of what has been given back; an hour of two channels has
// 1.4 GB.
#if defined(__SANITIZE_ADDRESS__)
constexpr std::size_t most_growth_kb = 300 * 1024;
#else
constexpr std::size_t most_growth_kb = 2048;
#endif

TEST_CASE("long stream: an hour of audio passes in constant memory, sample by sample",
          "[rig][link]") {
    constexpr std::size_t hour = std::size_t{48000} * 3600;
    constexpr std::size_t block = 1024;
    sample_exchange exchange{small_layout()};
    const auto job = make_job(exchange.layout(), {hour, block});
    std::atomic<bool> over{false};
    // A driver at full speed that waits for the feeding side: a fast clock must not starve it.
    std::thread driver{[&] {
        fake_stream stream{exchange, block};
        while (!over) {
            // As long as nothing starves, what is recorded is what was played, and then the tail.
            const std::size_t left = hour - std::min(hour, job->recorded.load());
            const bool fed = job->play.filled() >= std::min(block, left) || job->finished;
            if (!fed || job->record.space() < block) {
                std::this_thread::yield();
                continue;
            }
            std::copy_n(stream.out(1), block, stream.in(0));
            std::copy_n(stream.out(0), block, stream.in(2));
            stream.block();
        }
    }};
    std::size_t at = 0;
    std::size_t wrong = 0;
    std::size_t first_kb = 0;
    std::size_t most_kb = 0;
    const volts_source source = [](std::size_t first, volts_block& to) {
        for (std::size_t c = 0; c < to.size(); ++c)
            for (std::size_t i = 0; i < to[c].size(); ++i) to[c][i] = value_at(c, first + i);
    };
    const volts_sink sink = [&](const volts_block& from) {
        for (std::size_t i = 0; i < from[0].size(); ++i) {
            const std::size_t frame = at + i;  // heard one block late
            if (frame < block || frame >= hour) continue;
            for (std::size_t c = 0; c < 2; ++c)
                wrong += std::abs(from[c][i] - value_at(c, frame - block)) > 2e-6F ? 1 : 0;
        }
        at += from[0].size();
        const auto kb = resident_kb();
        if (at > hour / 60 && first_kb == 0) first_kb = kb;
        most_kb = std::max(most_kb, kb);
    };
    const auto report = feed(exchange, job, two_by_two(), source, sink, {});
    over = true;
    driver.join();
    CHECK(report.recorded == hour + block);
    CHECK(report.events.empty());
    CHECK(wrong == 0);
    CAPTURE(first_kb, most_kb);
    CHECK(first_kb > 0);
    // An hour of two channels each way would be 2.8 GB; a page here and there is the allocator's.
    CHECK(most_kb < first_kb + most_growth_kb);
}

TEST_CASE("feeder: a volt outside the limits is refused before it sounds", "[rig][link]") {
    sample_exchange exchange{small_layout()};
    const auto job = make_job(exchange.layout(), {100, 0});
    const volts_source source = [](std::size_t, volts_block& to) { to[1][57] = -5.1F; };
    CHECK_THROWS_WITH(
        feed(exchange, job, two_by_two(), source, [](const volts_block&) {}, {}),
        Catch::Matchers::Contains("Jack 'b' would get -5.1 V at 0.001 s, but its output is limited "
                                  "to -5 V to 5 V"));
    CHECK(exchange.callbacks() == 0);
}

TEST_CASE("feeder: a stream that never calls back has vanished after a second", "[rig][link]") {
    sample_exchange exchange{small_layout()};
    const auto job = make_job(exchange.layout(), {100, 0});
    const auto report = feed(
        exchange, job, two_by_two(), [](std::size_t, volts_block&) {}, [](const volts_block&) {},
        {});
    REQUIRE(report.events.size() == 1);
    CHECK(report.events[0].what == stream_event::kind::vanished);
}
