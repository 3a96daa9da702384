#pragma once

#include "demo/jack/jack_client.hpp"

#include <atomic>
#include <cstdint>
#include <string>
#include <vector>

namespace live {

/// A client that plays some channels and records others at the same time. What it records with
/// frame n comes from ports that are at least one block behind what it played with frame n.
class jack_player : public ferrule::audio_worker {
public:
    /// One output a port of `play_to`, one input a port of `record_from`.
    jack_player(const std::string& server, const std::vector<std::string>& play_to,
                const std::vector<std::string>& record_from);
    ~jack_player() override;

    /// Channels of one length; as many frames come back from each recorded port.
    std::vector<std::vector<float>> exchange(const std::vector<std::vector<float>>& out);

    /// Holds these values at the outputs between exchanges; returns once they have been there for
    /// some blocks.
    void hold(const std::vector<float>& values);

    [[nodiscard]] bool is_playing() const noexcept { return busy_; }

    void process(std::size_t frames, std::span<const float* const> in,
                 std::span<float* const> out) noexcept override;

private:
    std::vector<std::vector<float>> to_play_;
    std::vector<std::vector<float>> recorded_;
    std::vector<std::atomic<float>> held_;
    std::atomic<std::uint64_t> blocks_{0};
    std::size_t at_ = 0;
    std::size_t frames_ = 0;
    std::atomic<bool> busy_{false};
    ferrule::jack_client jack_;
};

}  // namespace live
