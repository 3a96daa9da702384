#include "demo/render.hpp"

#include <algorithm>

namespace ferrule {

host::host(const module_plan& plan, const wiring& wires, std::size_t channels)
    : module_{plan}, wires_{wires}, channels_{channels} {}

void host::take_frame(std::span<const float> volts) noexcept {
    const std::size_t used = std::min(channels_, wires_.jacks.size());
    for (std::size_t channel = 0; channel < used; ++channel) {
        in_[static_cast<std::size_t>(wires_.jacks[channel])][at_] =
            static_cast<double>(volts[channel]);
    }
}

void host::give_frame(std::span<float> volts) const noexcept {
    for (std::size_t channel = 0; channel < wires_.outputs.size(); ++channel) {
        volts[channel] =
            static_cast<float>(out_[static_cast<std::size_t>(wires_.outputs[channel])][at_]);
    }
}

void host::process(std::span<const float> stimulus, std::span<float> response) noexcept {
    const std::size_t outputs = wires_.outputs.size();
    const std::size_t frames = stimulus.size() / channels_;
    for (std::size_t frame = 0; frame < frames; ++frame) {
        if (at_ == 0) module_.play(out_);
        take_frame(stimulus.subspan(frame * channels_, channels_));
        give_frame(response.subspan(frame * outputs, outputs));
        if (++at_ < block_frames) continue;
        at_ = 0;
        module_.record(in_);
    }
}

sound render(const sound& stimulus, const module_plan& plan, const wiring& wires) {
    sound response{stimulus.rate_hertz, static_cast<int>(wires.outputs.size()), {}};
    response.samples.resize(stimulus.frames() * wires.outputs.size());
    host playing{plan, wires, static_cast<std::size_t>(stimulus.channels)};
    playing.process(stimulus.samples, response.samples);
    return response;
}

}  // namespace ferrule
