#include "rig/run/patch_search.hpp"

#include <algorithm>

namespace cvrig::patching {

bool has(const std::vector<std::size_t>& list, std::size_t output) {
    return std::find(list.begin(), list.end(), output) != list.end();
}

std::optional<std::size_t> player_of(const std::vector<std::size_t>& working,
                                     std::optional<std::size_t> meant) {
    if (working.empty()) return std::nullopt;
    return meant && has(working, *meant) ? *meant : working.front();
}

search_reading search_cables(const search_scene& scene) {
    search_reading out;
    if (!search_gate(scene, out)) return out;
    scene.to_module.expect_latency(
        seconds{out.delay_samples.value_or(0.0) / scene.to_module.rate().value()});
    if (!search_held_note(scene, out)) return out;
    // A gate that moves pitch or filter as well makes every strike another note.
    for (const auto o : out.gate)
        if (has(out.pitch, o) || has(out.cutoff, o)) return out;
    if (search_strikes(scene, out)) static_cast<void>(search_steps(scene, out));
    return out;
}

}  // namespace cvrig::patching
