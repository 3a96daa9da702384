#pragma once

#include "demo/alsa/channel_map.hpp"

#include <RtAudio.h>

#include <optional>

namespace ferrule {

/// How an ALSA device is opened.
struct alsa_face {
    std::string device;  ///< as RtAudio calls it: "hw:Loopback,1"
    unsigned rate_hertz = 48000;
    unsigned block_frames = 256;
    unsigned blocks = 4;
    channel_map channels;
};

/// One device of ALSA, both ways at once, from construction to destruction.
class alsa_client {
public:
    /// Throws user_mistake when the device is not there or does not take the settings.
    explicit alsa_client(alsa_face face);

    /// From now on the worker, which knows volts at jacks, is called; it must outlive stop().
    void start(audio_worker& worker);
    void stop() noexcept;

    [[nodiscard]] double rate_hertz() const noexcept { return face_.rate_hertz; }
    [[nodiscard]] std::size_t block_frames() const noexcept { return face_.block_frames; }
    /// The stream has ended by itself.
    [[nodiscard]] bool is_alone() const noexcept { return !audio_.isStreamRunning(); }

private:
    static int on_block(void* out, void* in, unsigned frames, double seconds,
                        RtAudioStreamStatus status, void* self) noexcept;
    [[nodiscard]] unsigned device_index();
    void open(unsigned index);
    void work(const float* in, float* out, std::size_t frames) noexcept;

    alsa_face face_;
    std::optional<channel_adapter> adapter_;
    std::vector<const float*> in_;
    std::vector<float*> out_;
    RtAudio audio_;
};

}  // namespace ferrule
