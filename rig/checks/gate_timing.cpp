#include "rig/checks/gate_timing.hpp"

#include <cmath>

#include "analysis/held_wave.hpp"
#include "rig/checks/listening.hpp"

namespace cvrig {

seconds alignment_uncertainty(const check_request& request) {
    const bench& desk = request.desk;
    if (!desk.audio) return seconds{0.0};
    const double width = desk.loop ? 1.0 : static_cast<double>(desk.audio->block_frames);
    return seconds{width / std::sqrt(12.0) / desk.rate().value()};
}

seconds random_waits::next(seconds least, seconds most) {
    // Not std::uniform_real_distribution, whose numbers differ from library to library.
    const double share = static_cast<double>(random_() >> 11) * 0x1p-53;
    const double wait = least.value() + share * (most - least).value();
    return seconds{std::round(1e6 * wait) * 1e-6};
}

analysis::outcome<hertz> sounding_pitch(const heard_passage& heard, hertz nominal,
                                        std::span<const std::size_t> steps, seconds skip) {
    analysis::refusal why = analysis::refusal::silent;
    for (const std::size_t index : steps) {
        const auto note = part_of_step(heard, timed_jack, index, skip, seconds{0.0});
        if (!sounds(heard, timed_jack, note)) continue;
        // The cheap way serves a module that is roughly in tune.
        const seconds length{static_cast<double>(note.size()) / heard.rate.value()};
        if (const auto wave =
                analysis::read_held_wave(note, 0.0, heard.rate, nominal, seconds{0.0}, length);
            wave && wave->residual_rms() < 0.1 * wave->rms())
            return wave->pitch();
        if (const auto tone = pitch_near(note, heard.rate, nominal)) return tone->pitch;
        why = analysis::refusal::no_pitch;
    }
    return analysis::refuse(why);
}

}  // namespace cvrig
