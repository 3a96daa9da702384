#pragma once

#include "demo/block.hpp"
#include "demo/jack/jack_client.hpp"

#include <optional>
#include <string_view>

namespace ferrule {

/// Which channels of an audio interface lead to which jacks of the module, all counted from 0.
struct channel_map {
    std::array<std::optional<std::size_t>, jack_count> input_of;  ///< a jack without one is at 0 V
    struct cable {
        std::size_t from_input;
        std::size_t to_output;
    };
    std::optional<cable> loop;
    std::size_t inputs = 0;
    std::size_t outputs = 0;  ///< left, right, then what the loop needs
    double full_scale_volts = 10.0;
};

/// `channels` names the jack at each input, "-" for none and "loop" for the one of the loop-back
/// cable; none at all means the jacks in their order. `loop` is "7:3", or empty. There are at
/// least `fewest_outputs`. Throws user_mistake at what is not understood.
[[nodiscard]] channel_map read_channel_map(std::span<const std::string> channels,
                                           std::string_view loop, std::size_t fewest_outputs,
                                           double full_scale_volts);

/// Stands between an interface, whose samples are 1.0 at full scale and clip there, and a module,
/// whose samples are volts.
class channel_adapter : public audio_worker {
public:
    channel_adapter(const channel_map& map, audio_worker& module, std::size_t most_frames);

    /// One buffer for each of the map's inputs and outputs, at most `most_frames` long.
    void process(std::size_t frames, std::span<const float* const> in,
                 std::span<float* const> out) noexcept override;

private:
    void read_jacks(std::size_t frames, std::span<const float* const> in) noexcept;

    channel_map map_;
    audio_worker& module_;
    std::vector<std::vector<float>> volts_;  ///< of the jacks, then of the outputs
    std::vector<const float*> jacks_;
    std::vector<float*> outputs_;
};

}  // namespace ferrule
