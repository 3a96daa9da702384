#include "demo/render.hpp"

#include <algorithm>

namespace ferrule {
namespace {

void take_block(const sound& from, std::size_t frame, const wiring& wires, input_block& into) {
    const auto channels = static_cast<std::size_t>(from.channels);
    const std::size_t used = std::min(channels, wires.jacks.size());
    const std::size_t frames = from.frames();
    for (std::size_t channel = 0; channel < used; ++channel) {
        auto& volts = into[static_cast<std::size_t>(wires.jacks[channel])];
        for (std::size_t i = 0; i < block_frames; ++i) {
            const std::size_t at = std::min(frame + i, frames - 1);
            volts[i] = static_cast<double>(from.samples[at * channels + channel]);
        }
    }
}

void give_block(const output_block& from, std::size_t frame, const wiring& wires, sound& into) {
    const std::size_t channels = wires.outputs.size();
    const std::size_t count = std::min(block_frames, into.frames() - frame);
    for (std::size_t channel = 0; channel < channels; ++channel) {
        const auto& volts = from[static_cast<std::size_t>(wires.outputs[channel])];
        for (std::size_t i = 0; i < count; ++i) {
            into.samples[(frame + i) * channels + channel] = static_cast<float>(volts[i]);
        }
    }
}

}  // namespace

sound render(const sound& stimulus, const module_plan& plan, const wiring& wires) {
    sound response{stimulus.rate_hertz, static_cast<int>(wires.outputs.size()), {}};
    response.samples.resize(stimulus.frames() * wires.outputs.size());
    module_under_test module{plan};
    input_block in{};
    output_block out{};
    for (std::size_t frame = 0; frame < stimulus.frames(); frame += block_frames) {
        take_block(stimulus, frame, wires, in);
        module.process(in, out);
        give_block(out, frame, wires, response);
    }
    return response;
}

}  // namespace ferrule
