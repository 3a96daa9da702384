#include "demo/alsa/channel_map.hpp"

#include "demo/live/jack_names.hpp"
#include "demo/text.hpp"
#include "demo/user_mistake.hpp"

#include <algorithm>

namespace ferrule {
namespace {

constexpr std::size_t most_channels = 32;

std::size_t channel_number(std::string_view text) {
    return static_cast<std::size_t>(
               number_of("a channel", text, 1.0, static_cast<double>(most_channels))) -
           1;
}

channel_map::cable read_loop(std::string_view text) {
    const auto colon = text.find(':');
    if (colon == std::string_view::npos) {
        throw user_mistake("\"" + std::string{text} +
                           "\" is no loop-back; write it as INPUT:OUTPUT, such as 7:3.");
    }
    const channel_map::cable loop{channel_number(text.substr(0, colon)),
                                  channel_number(text.substr(colon + 1))};
    if (loop.to_output < output_count) {
        throw user_mistake("The outputs 1 and 2 are left and right; the loop-back needs another.");
    }
    return loop;
}

void connect(channel_map& map, const std::string& word, std::size_t input) {
    if (word == "-") return;
    if (word == "loop") {
        if (map.loop && map.loop->from_input == input) return;
        const auto number = std::to_string(input + 1);
        throw user_mistake("The channel " + number +
                           " is called loop, but no loop-back begins there; say loop=" + number +
                           ":3.");
    }
    const auto known = std::find(jack_names.begin(), jack_names.end(), word);
    if (known == jack_names.end()) {
        throw user_mistake("There is no jack \"" + word +
                           "\"; say pitch, gate, accent, slide, cutoff, decay, - or loop.");
    }
    auto& place = map.input_of[static_cast<std::size_t>(known - jack_names.begin())];
    if (place) throw user_mistake("The jack " + word + " is named twice.");
    place = input;
}

float clipped(double full_scale) {
    return static_cast<float>(std::clamp(full_scale, -1.0, 1.0));
}

}  // namespace

channel_map read_channel_map(std::span<const std::string> channels, std::string_view loop,
                             std::size_t fewest_outputs, double full_scale_volts) {
    const std::vector<std::string> all{jack_names.begin(), jack_names.end()};
    const std::span<const std::string> named = channels.empty() ? all : channels;
    if (named.size() > most_channels) throw user_mistake("More than 32 channels are named.");
    channel_map map;
    map.full_scale_volts = full_scale_volts;
    map.inputs = named.size();
    map.outputs = std::max(fewest_outputs, output_count);
    if (!loop.empty()) {
        map.loop = read_loop(loop);
        map.inputs = std::max(map.inputs, map.loop->from_input + 1);
        map.outputs = std::max(map.outputs, map.loop->to_output + 1);
    }
    for (std::size_t input = 0; input < named.size(); ++input) connect(map, named[input], input);
    return map;
}

channel_adapter::channel_adapter(const channel_map& map, audio_worker& module,
                                 std::size_t most_frames)
    : map_{map},
      module_{module},
      volts_(jack_count + output_count, std::vector<float>(most_frames)) {
    for (std::size_t i = 0; i < jack_count; ++i) jacks_.push_back(volts_[i].data());
    for (std::size_t i = 0; i < output_count; ++i) {
        outputs_.push_back(volts_[jack_count + i].data());
    }
}

void channel_adapter::read_jacks(std::size_t frames, std::span<const float* const> in) noexcept {
    const auto full_scale = static_cast<float>(map_.full_scale_volts);
    for (std::size_t i = 0; i < jack_count; ++i) {
        if (!map_.input_of[i]) continue;
        std::transform(in[*map_.input_of[i]], in[*map_.input_of[i]] + frames, volts_[i].begin(),
                       [full_scale](float sample) { return sample * full_scale; });
    }
}

void channel_adapter::process(std::size_t frames, std::span<const float* const> in,
                              std::span<float* const> out) noexcept {
    read_jacks(frames, in);
    module_.process(frames, jacks_, outputs_);
    for (std::size_t i = 0; i < map_.outputs; ++i) {
        if (map_.loop && map_.loop->to_output == i) {
            std::copy_n(in[map_.loop->from_input], frames, out[i]);
        } else if (i < output_count) {
            const double full_scale = map_.full_scale_volts;
            std::transform(outputs_[i], outputs_[i] + frames, out[i], [full_scale](float volts) {
                return clipped(static_cast<double>(volts) / full_scale);
            });
        } else {
            std::fill_n(out[i], frames, 0.0F);
        }
    }
}

}  // namespace ferrule
