#pragma once

#include "demo/handover.hpp"
#include "demo/interface/channel_path.hpp"
#include "demo/jack/jack_client.hpp"

#include <vector>

namespace ferrule {

/// The ports of the interface as a JACK client. What faces the computer comes first, so that a
/// program which opens the client as a device finds its channels in order.
[[nodiscard]] jack_face desk_face(const std::string& server, const std::string& client);

/// The interface itself: playback_N goes to the socket out_N in volts, the socket in_N to
/// capture_N; sample 1.0 is full scale on the computer's side and 1 V on the sockets' side.
class desk : public audio_worker {
public:
    desk(double full_scale_volts, double rate_hertz);

    /// From the next block on; waits for the callback to take it, at most so long.
    void set(const desk_faults& faults);

    void process(std::size_t frames, std::span<const float* const> in,
                 std::span<float* const> out) noexcept override;

private:
    using frame = std::array<double, desk_channels>;
    void apply_faults() noexcept;
    [[nodiscard]] static frame through(std::vector<channel_path>& paths, const frame& in) noexcept;

    double full_scale_volts_;
    std::vector<channel_path> out_paths_;
    std::vector<channel_path> in_paths_;
    handover<desk_faults> new_faults_;
    desk_faults faults_;
};

}  // namespace ferrule
