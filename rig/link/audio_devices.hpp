#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rig/bench/bench.hpp"

namespace cvrig {

/// One audio device of this computer, as one way to reach it shows it.
struct audio_device {
    std::string api;   ///< as a bench file names it: "jack", "alsa", "pulse"
    std::string name;  ///< as a bench file may name it, whole or in part
    std::size_t outputs{0};
    std::size_t inputs{0};
    std::vector<double> rates_hz;
    std::string problem;  ///< why its channels and rates are not known; usually that it is busy
};

/// Every audio device that can be seen now, of every way that this build knows. Waits at most some
/// seconds for a server that does not answer; throws nothing.
[[nodiscard]] std::vector<audio_device> audio_devices();

/// What stands against using a device as the interface of a bench with `outputs` driven and `inputs`
/// recorded jacks at `rate`: one phrase each, empty if nothing does.
[[nodiscard]] std::vector<std::string> shortcomings(const audio_device& device, std::size_t outputs,
                                                    std::size_t inputs, sample_rate rate);

/// The device that a bench file means: the one whose name it is, or the only one that has it as a
/// part (case ignored), of the given way or else of the first that has any.
///
/// Refuses: throws user_error that lists what there is if none or several fit.
[[nodiscard]] audio_device find_device(const std::vector<audio_device>& all,
                                       const audio_link_settings& wanted);

}  // namespace cvrig
