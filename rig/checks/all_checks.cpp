#include <array>

#include "rig/checks/accent.hpp"
#include "rig/checks/check.hpp"
#include "rig/checks/clicks.hpp"
#include "rig/checks/console.hpp"
#include "rig/checks/envelope.hpp"
#include "rig/checks/extremes.hpp"
#include "rig/checks/gate.hpp"
#include "rig/checks/image.hpp"
#include "rig/checks/knob_and_jack.hpp"
#include "rig/checks/latency.hpp"
#include "rig/checks/level.hpp"
#include "rig/checks/noise.hpp"
#include "rig/checks/pattern.hpp"
#include "rig/checks/range.hpp"
#include "rig/checks/retrigger.hpp"
#include "rig/checks/slide.hpp"
#include "rig/checks/slide_range.hpp"
#include "rig/checks/stereo.hpp"
#include "rig/checks/tracking.hpp"
#include "rig/checks/unplugged.hpp"
#include "rig/checks/waveform.hpp"

namespace cvrig {

std::span<const check> all_checks() {
    static const std::array checks{
        tracking_check(), slide_check(),       retrigger_check(),     accent_check(),
        envelope_check(), level_check(),       stereo_check(),        waveform_check(),
        noise_check(),    clicks_check(),      latency_check(),       gate_check(),
        range_check(),    slide_range_check(), knob_and_jack_check(), unplugged_check(),
        extremes_check(), pattern_check(),     console_check(),       image_check()};
    return checks;
}

const check* find_check(std::string_view name) {
    for (const auto& c : all_checks())
        if (c.spec.name == name) return &c;
    return nullptr;
}

std::vector<check_spec> all_specs() {
    std::vector<check_spec> out;
    for (const auto& c : all_checks()) out.push_back(c.spec);
    return out;
}

}  // namespace cvrig
