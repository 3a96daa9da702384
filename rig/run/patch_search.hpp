#pragma once

#include "rig/run/patch_cast.hpp"
#include "rig/run/patch_listening.hpp"

namespace cvrig::patching {

/// What each output does, whatever the bench file says. Outputs by their place in it, from 0.
struct search_reading {
    std::string problem;  ///< no record
    bool any_sound{false};
    bool sounds_by_itself{false};              ///< before any output is high
    std::vector<std::size_t> gate;             ///< each starts a note by itself
    std::vector<std::size_t> pitch;            ///< each moves the pitch
    std::vector<std::size_t> cutoff;           ///< each changes the brightness of a held note
    std::vector<std::size_t> accent;           ///< each changes a struck note
    std::vector<std::size_t> slide;            ///< each makes a tied step glide
    std::vector<std::size_t> changed;          ///< outputs to unknown jacks that change anything
    std::optional<double> octaves_per_octave;  ///< by the pitch output; 1 is right
    bool always_glides{false};                 ///< tied steps glide with every output low
    bool strikes_played{false}, steps_played{false};
    std::optional<double> delay_samples;
    std::size_t best_input{0};
    double silence_db{-160.0};  ///< at that input, re 1 V
    std::vector<bool> inputs_sound;
    std::vector<patch_effect> effects;
};

/// What a search is made with.
struct search_scene {
    player& to_module;
    const bench& desk;
    const module_expectations& module;
    const cast& who;
    safe_levels levels;
    seconds longest_latency;
    bool accent_is_masked{false};  ///< look for what else reaches the accent
};

/// Looks at each output by itself: first which starts a note, then, while one is held, which moves
/// pitch and brightness, then which changes strikes and tied steps.
[[nodiscard]] search_reading search_cables(const search_scene& scene);

/// The steps of it. Each is false where the next ones make no sense.
[[nodiscard]] bool search_gate(const search_scene& scene, search_reading& into);
[[nodiscard]] bool search_held_note(const search_scene& scene, search_reading& into);
[[nodiscard]] bool search_strikes(const search_scene& scene, search_reading& into);
[[nodiscard]] bool search_steps(const search_scene& scene, search_reading& into);

/// The output that a search plays a jack with: the one that is meant to, if it works.
[[nodiscard]] std::optional<std::size_t> player_of(const std::vector<std::size_t>& working,
                                                   std::optional<std::size_t> meant);
[[nodiscard]] bool has(const std::vector<std::size_t>& list, std::size_t output);

}  // namespace cvrig::patching
