#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>
#include <string>

#include "rig/diagnosis/evidence.hpp"

namespace cvrig {

namespace {

const finding* wave_of(const check_result& r) {
    const auto* f = r.find("wave");
    return f == nullptr || !f->answered || !f->expected ? nullptr : f;
}

// Another wave than demanded: the positions of a switch exchanged, or one that does nothing.
std::optional<diagnosis> wrong_wave(const evidence& e) {
    const auto* here = wave_of(e.result);
    if (here == nullptr || !e.failed("wave")) return std::nullopt;
    bool all_alike = true, others = false;
    for (const auto* other : e.siblings()) {
        const auto* there = wave_of(*other);
        if (there == nullptr) continue;
        others = true;
        all_alike = all_alike && there->answered->text == here->answered->text;
        if (there->answered->text == here->expected->text &&
            there->expected->text == here->answered->text)
            return diagnosis{"switch positions exchanged",
                             fmt::format("Here the wave is {} and with {} it is {}: these two "
                                         "positions of the switch are exchanged.",
                                         here->answered->text,
                                         difference_in_words(other->choice, e.result.choice),
                                         there->answered->text)};
    }
    if (others && all_alike)
        return diagnosis{"switch not read",
                         fmt::format("The wave is {} in every position: the switch is not read.",
                                     here->answered->text)};
    return diagnosis{"another wave", fmt::format("The wave is {}, closer than to any other.",
                                                 here->answered->text)};
}

// Kinds of places: "a slide up" of "a slide up, 3.2 ms in, left".
std::set<std::string> places_of(std::span<const reading> clicks) {
    std::set<std::string> out;
    for (const auto& c : clicks) out.insert(c.at.substr(0, c.at.find(',')));
    return out;
}

}  // namespace

std::optional<diagnosis> diagnose_waveform(const evidence& e) {
    if (auto found = wrong_wave(e)) return found;
    if (e.failed("aliases") && !e.failed("wave"))
        return diagnosis{"aliasing",
                         fmt::format("What of a high note is no harmonic stands at {} ({}): the "
                                     "wave's steps are not band-limited.",
                                     text_of(e, "aliases"), place_of(e, "aliases"))};
    constexpr std::array causes{
        one_demand{"duty", "width of the square",
                   "The square is high for {} of its period: its width is off, which brings even "
                   "harmonics."},
        one_demand{"square share", "mix of the waves",
                   "The mix holds {} of the square: saw and square are blended in another ratio."},
        one_demand{"even-odd balance", "even and odd harmonics",
                   "Even harmonics stand at {} against the odd ones."},
        one_demand{"distance", "distorted wave",
                   "The wave is the right one, but {} of it is something else: distortion, or a "
                   "filter that is not smooth."},
    };
    return first_of(e, causes);
}

std::optional<diagnosis> diagnose_noise(const evidence& e) {
    if (e.failed("mains"))
        return diagnosis{"mains hum",
                         fmt::format("A line at a multiple of the mains frequency stands at {} "
                                     "({}): hum, of the supply or of a ground loop of the bench.",
                                     text_of(e, "mains"), place_of(e, "mains"))};
    if (e.failed("idle tone")) {
        const bool of_block = place_of(e, "idle tone").find("block rate") != std::string::npos;
        return diagnosis{of_block ? "tone at the block rate" : "idle tone",
                         fmt::format("A steady tone stands at {} ({}): {}.",
                                     text_of(e, "idle tone"), place_of(e, "idle tone"),
                                     of_block ? "the processor's work of each block gets into the "
                                                "sound"
                                              : "as of a lamp's pulse width, a converter or a "
                                                "clock")};
    }
    if (e.failed("bleed"))
        return diagnosis{"bleed",
                         fmt::format("A jack that swings while the gate is low is heard at {} "
                                     "({}): it leaks into the sound.",
                                     text_of(e, "bleed"), place_of(e, "bleed"))};
    if (e.failed("floor") || e.failed("weighted floor"))
        return diagnosis{
            "hiss", fmt::format("The floor is {}, and no line that was looked for makes it up: "
                                "broadband noise.",
                                text_of(e, e.failed("floor") ? "floor" : "weighted floor"))};
    return std::nullopt;
}

std::optional<diagnosis> diagnose_clicks(const evidence& e) {
    if (e.failed("dropouts"))
        return diagnosis{
            "dropouts", fmt::format("Sound is missing or played twice {} times ({}): the processor "
                                    "does not finish its blocks in time.",
                                    text_of(e, "dropouts"), place_of(e, "dropouts"))};
    const auto clicks = e.readings("largest click");
    const auto places = places_of(clicks);
    const bool clicked = e.failed("clicks") || e.failed("largest click");
    // A module that crackles may also do so just when it is switched on.
    if (clicked && places.size() > 2)
        return diagnosis{"crackle", fmt::format("Clicks of up to {} at many places ({} of them): "
                                                "crackle, as of an overloaded processor.",
                                                text_of(e, "largest click"), clicks.size())};
    if (e.failed("pop at boot"))
        return diagnosis{"pop at boot", fmt::format("Switching on gives {}: outputs are opened "
                                                    "before the sound is at rest.",
                                                    text_of(e, "pop at boot"))};
    for (const auto& [steps, what] :
         {std::pair{"pitch steps", "pitch"}, std::pair{"cutoff steps", "cutoff"}}) {
        if (!e.failed(steps)) continue;
        return diagnosis{std::string{what} + " in steps",
                         fmt::format("While its CV moves slowly the {} moves in steps of {}: it is "
                                     "read too coarsely or too seldom, and not smoothed.",
                                     what, text_of(e, steps))};
    }
    if (!clicked || places.empty()) return std::nullopt;
    return diagnosis{"click at one place",
                     fmt::format("Clicks of up to {}, all at {}: something jumps there that should "
                                 "glide.",
                                 text_of(e, "largest click"), fmt::join(places, " and "))};
}

}  // namespace cvrig
