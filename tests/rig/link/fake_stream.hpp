#pragma once

#include <chrono>
#include <vector>

#include "rig/link/sample_exchange.hpp"

namespace cvrig::test {

/// A layout of two outputs (device channels 2 and 1) and two inputs (1 and 3) of a device with four
/// channels each way.
inline stream_layout small_layout(sample_rate rate = sample_rate{48000.0}) {
    stream_layout out;
    out.outputs = {1, 0};
    out.inputs = {0, 2};
    out.rest = {0.0F, 0.01F};
    out.device_outputs = 4;
    out.device_inputs = 4;
    out.rate = rate;
    return out;
}

/// Calls process() as a driver would, with a clock of its own.
class fake_stream {
public:
    fake_stream(sample_exchange& to, std::size_t block_frames)
        : to_{to},
          frames_{block_frames},
          in_(to.layout().device_inputs * block_frames),
          out_(to.layout().device_outputs * block_frames) {}

    /// The input of the next block: every channel its number plus a tenth, from 0.
    void block(block_flags flags = {}) {
        now_ += std::chrono::nanoseconds{
            static_cast<long>(1e9 * static_cast<double>(frames_) / to_.layout().rate.value())};
        to_.process(in_.data(), out_.data(), frames_, flags, now_);
    }
    void late_by(std::chrono::nanoseconds t) { now_ += t; }

    [[nodiscard]] float* in(std::size_t channel) { return in_.data() + channel * frames_; }
    [[nodiscard]] const float* out(std::size_t channel) const {
        return out_.data() + channel * frames_;
    }
    [[nodiscard]] std::size_t frames() const { return frames_; }

private:
    sample_exchange& to_;
    std::size_t frames_;
    std::vector<float> in_, out_;
    steady_time now_{std::chrono::steady_clock::now()};
};

}  // namespace cvrig::test
