#pragma once

#include <memory>
#include <string>

#include "rig/bench/bench.hpp"
#include "rig/link/audio_devices.hpp"
#include "rig/link/sample_exchange.hpp"

namespace cvrig {

/// A running full-duplex stream of RtAudio with the realtime half of the link in its callback.
class rt_stream {
public:
    rt_stream() = default;
    rt_stream(const rt_stream&) = delete;
    rt_stream& operator=(const rt_stream&) = delete;
    virtual ~rt_stream() = default;

    [[nodiscard]] virtual sample_exchange& exchange() noexcept = 0;
    [[nodiscard]] virtual const audio_device& device() const noexcept = 0;
    [[nodiscard]] virtual std::size_t block_frames() const noexcept = 0;
    /// Keeps a job alive for as long as a callback may touch it.
    virtual void keep(std::shared_ptr<exchange_job> job) = 0;
    /// Takes the stream down; may hang in a driver or a server, so it has a thread of its own.
    virtual void close() noexcept = 0;
};

/// Finds the device, opens it and waits for its first callback, at most `patience`: a server that
/// does not answer would otherwise hold the rig for ever.
///
/// Refuses: throws user_error if there is no such device, it has too few channels, it cannot run at
///          the rate, it is busy, or it never calls back.
[[nodiscard]] std::shared_ptr<rt_stream> open_stream(const audio_link_settings& settings,
                                                     const stream_layout& layout, seconds patience);

/// Takes the stream down and waits for it, at most `patience`; then it is left to itself.
void close_stream(std::shared_ptr<rt_stream> stream, seconds patience);

}  // namespace cvrig
