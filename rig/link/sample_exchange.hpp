#pragma once

#include <atomic>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "rig/link/exchange_job.hpp"

namespace cvrig {

/// Which channels of a device are used, and for what. Everything here is in samples.
struct stream_layout {
    std::vector<std::size_t> outputs;  ///< device channels from 0, in the order of what is played
    std::vector<std::size_t> inputs;   ///< the same of what is recorded
    std::vector<float> rest;           ///< the sample of 0 V of each output
    std::size_t device_outputs{0};     ///< channels in a buffer of the device
    std::size_t device_inputs{0};
    sample_rate rate{48000.0};
    /// In the driver's buffer, which hides a callback that is late by less. A later one is an event.
    std::size_t blocks{2};
};

/// What the driver says about a block.
struct block_flags {
    bool underrun{false};
    bool overrun{false};
};

/// The realtime half of an audio link: what happens inside the callback of a stream, without the
/// stream.
///
/// It holds levels, ramps in 10 ms between them, plays and records a job, and at stop() ramps to
/// 0 V and stays there. process() only copies between memory that was there before: it takes no
/// lock, allocates nothing, logs nothing and touches no file (tests/rig/link/realtime_test.cpp
/// counts). All other functions belong to one feeding thread, but stop(), which any thread may
/// call, even from inside a signal handler.
class sample_exchange {
public:
    explicit sample_exchange(stream_layout layout);

    /// One block: non-interleaved samples, one channel of the device after the other. `out` is
    /// filled in full; channels that are not used get 0.
    void process(const float* in, float* out, std::size_t frames, block_flags flags,
                 steady_time now) noexcept;

    /// Plays a job; it must stay alive until it is finished or no callback comes any more. There is
    /// one job at a time.
    void start(exchange_job& job) noexcept;

    /// Ramps to these levels (one sample value an output) and stays there when nothing plays.
    void hold(std::span<const float> levels) noexcept;

    /// Ramps to 0 V and stays there for good; a job that plays is finished early.
    void stop() noexcept;

    [[nodiscard]] bool is_silent() const noexcept { return silent_.load(); }  ///< after stop()
    /// True when the last hold() has been reached.
    [[nodiscard]] bool is_settled() const noexcept;
    [[nodiscard]] std::uint64_t callbacks() const noexcept { return callbacks_.load(); }
    [[nodiscard]] const stream_layout& layout() const noexcept { return layout_; }

private:
    enum class phase { holding, leading, playing, tailing, stopping };

    struct block {
        const float* in;
        float* out;
        std::size_t frames;
        std::size_t done;
    };

    void take_orders() noexcept;
    void note_block(std::size_t frames, block_flags flags, steady_time now) noexcept;
    void note(stream_event::kind what, double size) noexcept;
    void advance(block& b) noexcept;
    void play(block& b) noexcept;
    void record(const block& b, std::size_t frames) noexcept;
    void emit_ramp(block& b, std::size_t frames) noexcept;
    void begin_ramp(const std::vector<float>& to) noexcept;
    void finish_job() noexcept;
    [[nodiscard]] float ramp_level(std::size_t output, std::size_t step) const noexcept;

    stream_layout layout_;
    std::size_t ramp_frames_;

    // Orders of the feeding side.
    std::vector<std::atomic<float>> ordered_levels_;
    std::atomic<std::uint64_t> ordered_{0};  ///< counts the calls of hold()
    std::atomic<exchange_job*> next_job_{nullptr};
    std::atomic<bool> stop_{false};

    // Reports to it.
    std::atomic<std::uint64_t> reached_{0};  ///< the hold() whose levels are there
    std::atomic<bool> silent_{false};
    std::atomic<std::uint64_t> callbacks_{0};

    // The realtime side's own.
    phase phase_{phase::holding};
    exchange_job* job_{nullptr};
    std::uint64_t obeyed_{0};
    std::vector<float> held_;   ///< where outputs are between jobs
    std::vector<float> level_;  ///< the last sample of each output
    std::vector<float> from_, to_;
    std::vector<float> first_;  ///< of the job
    std::size_t ramp_done_;
    std::size_t played_{0};
    std::size_t tail_done_{0};
    steady_time last_block_{};
    bool had_block_{false};
};

}  // namespace cvrig
