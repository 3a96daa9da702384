#include <array>
#include <catch2/catch.hpp>
#include <mutex>

#include "tests/rig/link/fake_stream.hpp"
#include "tests/support/call_counter.hpp"

using namespace cvrig;
using namespace cvrig::test;

namespace {

struct calls {
    std::size_t memory{0}, locks{0};
    bool operator==(const calls&) const = default;
};

/// What `work` does on this thread.
template <class Work>
calls counted(const Work& work) {
    const call_counter counter;
    work();
    return {counter.memory_calls(), counter.locks()};
}

void fill(exchange_job& job, std::size_t frames) {
    job.play.write(frames, [](std::size_t, std::size_t i) { return i % 2 == 0 ? 0.5F : -0.5F; });
}

/// Every state of the realtime half in turn: rest, ramps, play, a starved and an overfull ring, more
/// events than fit, a cancelled job, the end.
void run_through_everything(sample_exchange& exchange, fake_stream& stream, exchange_job& whole,
                            exchange_job& starved, exchange_job& cancelled) {
    const std::array levels{0.25F, -0.25F};
    const auto some = [&](int blocks, block_flags flags = {}) {
        for (int i = 0; i < blocks; ++i) stream.block(flags);
    };
    some(3);
    exchange.hold(levels);
    some(20);
    exchange.start(whole);
    while (!whole.finished) some(1, {true, true});
    exchange.start(starved);
    some(300);
    starved.cancelled = true;
    some(3);
    exchange.start(cancelled);
    some(20);
    cancelled.cancelled = true;
    some(3);
    exchange.start(whole);
    some(1);
    exchange.stop();
    some(200);
}

}  // namespace

TEST_CASE("realtime: no block takes memory or a lock, whatever happens", "[rig][link]") {
    const double rate_hz = GENERATE(44100.0, 48000.0, 88200.0, 96000.0, 176400.0, 192000.0);
    const std::size_t block = GENERATE(std::size_t{32}, 64u, 127u, 256u, 1024u, 4096u);
    CAPTURE(rate_hz, block);
    sample_exchange exchange{small_layout(sample_rate{rate_hz})};
    fake_stream stream{exchange, block};
    exchange_job whole{{2, 2, 20000, 20000}, 20000, 300};
    exchange_job starved{{2, 2, 100, 100}, 20000, 300};
    exchange_job cancelled{{2, 2, 200000, 1}, 200000, 300};
    fill(whole, 20000);
    fill(starved, 100);
    fill(cancelled, 200000);
    const auto done =
        counted([&] { run_through_everything(exchange, stream, whole, starved, cancelled); });
    CHECK(done == calls{0, 0});
    CHECK(exchange.is_silent());
    CHECK(starved.untold_events + starved.event_count > 0);
}

TEST_CASE("realtime: the counting sees memory and locks in a block", "[rig][link]") {
    // The same half, spoilt on purpose: what a careless callback would do.
    sample_exchange exchange{small_layout()};
    fake_stream stream{exchange, 256};
    std::mutex mutex;
    std::vector<std::vector<float>> kept;
    const auto with_memory = counted([&] {
        stream.block();
        kept.emplace_back(stream.out(0), stream.out(0) + stream.frames());
    });
    CHECK(with_memory.memory >= 1);
    CHECK(with_memory.locks == 0);
    const auto with_lock = counted([&] {
        const std::lock_guard lock{mutex};
        stream.block();
    });
    CHECK(with_lock == calls{0, 1});
}
