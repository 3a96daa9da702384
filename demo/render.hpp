#pragma once

#include "demo/module.hpp"
#include "demo/sound_file.hpp"

#include <span>
#include <vector>

namespace ferrule {

/// Which jack each stimulus channel drives and which output each response channel records. A
/// stimulus with fewer channels drives the first of the jacks; jacks without a channel are at 0 V.
struct wiring {
    std::vector<jack> jacks{jack::pitch, jack::gate,   jack::accent,
                            jack::slide, jack::cutoff, jack::decay};
    std::vector<output> outputs{output::left, output::right};
};

/// A module behind an audio host that hands over any number of frames at a time.
class host {
public:
    /// `channels`: how many samples make a frame of the stimulus.
    host(const module_plan& plan, const wiring& wires, std::size_t channels);

    /// The module itself, for changes between two calls of process.
    [[nodiscard]] module_under_test& module() noexcept { return module_; }

    /// As many frames out as in.
    void process(std::span<const float> stimulus, std::span<float> response) noexcept;

private:
    void take_frame(std::span<const float> volts) noexcept;
    void give_frame(std::span<float> volts) const noexcept;

    module_under_test module_;
    wiring wires_;
    std::size_t channels_;
    std::size_t at_ = 0;
    input_block in_{};
    output_block out_{};
};

/// Plays a stimulus into a module: as many frames come back as went in.
[[nodiscard]] sound render(const sound& stimulus, const module_plan& plan, const wiring& wires);

}  // namespace ferrule
