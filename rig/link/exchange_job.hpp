#pragma once

#include <array>
#include <atomic>
#include <chrono>
#include <cstddef>

#include "rig/link/frame_ring.hpp"
#include "rig/link/interface.hpp"

namespace cvrig {

using steady_time = std::chrono::steady_clock::time_point;

/// The rate of a stream by the computer's clock: a straight line through the times at which its
/// callbacks came, by least squares.
class rate_fit {
public:
    void add(double frames, steady_time at) noexcept;

    /// 0 until there is a line to speak of.
    [[nodiscard]] double frames_per_second() const noexcept;
    /// Standard uncertainty from the scatter of the callbacks; 0 as above.
    [[nodiscard]] double u_frames_per_second() const noexcept;

private:
    [[nodiscard]] double seconds_per_frame() const noexcept;

    steady_time first_{};
    double n_{0.0}, mean_frames_{0.0}, mean_seconds_{0.0};
    double frames_squared_{0.0}, frames_seconds_{0.0}, seconds_squared_{0.0};
};

/// One play-and-record, shared by the realtime side, which plays, and the side that feeds it. All
/// memory is there before it begins.
struct exchange_job {
    /// The rings hold `play_frames` and `record_frames`, so a take that fits into them needs nobody
    /// in time.
    struct size {
        std::size_t outputs, inputs, play_frames, record_frames;
    };
    exchange_job(size rings, std::size_t frames_to_play, std::size_t tail_frames)
        : play{rings.outputs, rings.play_frames},
          record{rings.inputs, rings.record_frames},
          frames{frames_to_play},
          tail{tail_frames} {}

    frame_ring play;
    frame_ring record;
    const std::size_t frames;
    const std::size_t tail;  ///< recorded after the last frame that was played

    std::atomic<bool> cancelled{false};  ///< by the feeding side
    std::atomic<bool> finished{false};   ///< by the realtime side, which is then done with the job

    static constexpr std::size_t most_events = 256;
    std::array<stream_event, most_events> events{};
    std::atomic<std::size_t> event_count{0};  ///< in `events`
    std::atomic<std::size_t> untold_events{0};
    std::atomic<std::size_t> recorded{0};  ///< frames that came back, kept or lost

    rate_fit rate;  ///< read by the feeding side only once finished
};

}  // namespace cvrig
