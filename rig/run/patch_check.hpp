#pragma once

#include <cstddef>
#include <functional>
#include <map>
#include <optional>
#include <stop_token>
#include <string>
#include <string_view>
#include <vector>

#include "analysis/units.hpp"
#include "rig/bench/bench.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/link/interface.hpp"

/// Before anything is judged: does each cable lead where the bench file says?
namespace cvrig {

/// What the patch check may lean on.
struct patch_options {
    /// From an output to an input through the module, at most.
    seconds longest_latency{0.2};
    /// Sends a line to the module's console; false if it was not taken. Left and right can only be
    /// told apart with it.
    std::function<bool(const std::string& line)> tell{};
    std::stop_token stop{};
};

/// What one output does to one jack, as heard. `size` has the unit that the jack's effect has:
/// decibels (gate, accent, cutoff), octaves (pitch), milliseconds (slide).
struct patch_effect {
    std::string output;  ///< jack to which the bench file says that it leads
    std::string jack;
    double size{0.0};
    double threshold{0.0};  ///< there if |size| reaches it
    bool there{false};
};

struct patch_result {
    /// Gate, pitch and every input are where the bench file says, and nothing speaks against the
    /// rest. Otherwise nothing may be judged.
    bool as_wired{false};
    std::vector<std::string> sentences;       ///< what is wrong and what to do; empty if as wired
    std::vector<std::string> cannot_exclude;  ///< what this check could not tell
    /// Jacks without any heard effect: a cable or the build. A failure of a check that needs one of
    /// them is not proven to be the build's.
    std::vector<std::string> unproven_jacks;
    /// For each driven jack the outputs (by their jacks in the bench file) that reach it.
    std::map<std::string, std::vector<std::string>> reached_by;
    /// For each recorded jack of the module the inputs (likewise) at which it was heard alone;
    /// empty without a console that can silence outputs.
    std::map<std::string, std::vector<std::string>> heard_at;
    std::optional<double> gate_to_sound_samples;  ///< from the output to the input, round trip
    seconds played{0.0};                          ///< sound that this check took
    bool short_test_held{false};                  ///< the short test was enough
    std::vector<patch_effect> effects;            ///< every decision with its size

    [[nodiscard]] bool proves(std::string_view jack) const;
};

/// Plays each output and recognises by the module's sound where its cable leads.
///
/// A short test (under 2 s) proves that all is as the bench file says. Only if it does not hold, a
/// longer one (5 to 8 s) looks at each output by itself: which starts a note, which moves the
/// pitch, which changes the brightness of a held note, the strike, the way of a tied step.
///
/// No output leaves its limits of the bench file. Levels are such that every jack gets what it is
/// made for even where cables are exchanged, as far as the jacks' ranges have so much in common.
/// A stream that lost samples is played again, twice at most; then nothing is said.
[[nodiscard]] patch_result check_patch(audio_interface& desk, const bench& b,
                                       const module_expectations& m,
                                       const patch_options& options = {});

}  // namespace cvrig
