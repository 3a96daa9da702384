#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "rig/diagnosis/evidence.hpp"

namespace cvrig {

namespace {

// How much more the loudest output gives than the quietest, in dB.
double spread_db(const evidence& e, const char* key) {
    double low = INFINITY, high = -INFINITY;
    for (const auto& r : e.readings(key)) {
        low = std::min(low, r.value);
        high = std::max(high, r.value);
    }
    return high - low;
}

// With and without a gate it sounds alike, far below a note: one that began long ago dies away.
bool ignores_the_gate(const evidence& e) {
    const auto* note = e.worst("level");
    const auto* rest = e.worst("silence");
    const auto* allowed = e.allowed("level");
    return e.failed("level") && note != nullptr && rest != nullptr && allowed != nullptr &&
           allowed->lower && note->value < *allowed->lower && rest->value > note->value - 6.0 &&
           rest->value < note->value + 6.0;
}

bool sounds_in_gaps(const evidence& e) {
    const auto* r = e.worst("silence");
    return e.failed("silence") && r != nullptr && r->value > -20.0;
}

}  // namespace

std::optional<diagnosis> diagnose_envelope(const evidence& e) {
    // A decay that follows the gate's length spoils others as well, so it is looked at first.
    constexpr std::array causes{
        one_demand{"tail", "tail chopped",
                   "A released note falls smoothly only down to {} and then stops dead: the voice "
                   "is switched off before its release is over."},
        one_demand{"gate length", "decay follows the gate's length",
                   "The release after a long gate differs by {} from that after a short one: the "
                   "envelope depends on how long the gate was."},
        one_demand{"strike again", "click when struck again",
                   "A note that is struck in mid-decay first drops by {}: the envelope starts from "
                   "zero and not from where it is, which clicks."},
        one_demand{"attack", "attack time",
                   "The attack takes {}: the attack's "
                   "own time is wrong."},
        one_demand{"decay", "amplitude decay",
                   "The amplitude decays with {}: its own time constant is wrong."},
        one_demand{"filter decay", "filter decay",
                   "The filter decays with {}: its own time constant is wrong."},
        one_demand{"release", "release time",
                   "The release takes {}: its own time constant is wrong."},
        one_demand{"sustain", "sustain", "A held note has {} against its start."},
    };
    return first_of(e, causes);
}

std::optional<diagnosis> diagnose_level(const evidence& e) {
    if (ignores_the_gate(e))
        return diagnosis{
            "gate stuck",
            fmt::format("A note sounds at {}, its end at {}: the sound does not follow "
                        "the gate any more, whose end goes unseen.",
                        text_of(e, "level"), text_of(e, "silence"))};
    if (sounds_in_gaps(e)) {
        const auto* note = e.worst("level");
        const bool louder_than_note = note != nullptr && note->value < -20.0;
        if (louder_than_note)
            return diagnosis{"gate inverted",
                             fmt::format("Notes are silent and the gaps sound ({}): the gate works "
                                         "the wrong way round.",
                                         text_of(e, "silence"))};
        return diagnosis{"gate stuck",
                         fmt::format("With the gate low it still sounds at {}: the end of the gate "
                                     "is not seen, or much too late.",
                                     text_of(e, "silence"))};
    }
    if (e.failed("level") && spread_db(e, "level") > 6.0)
        return diagnosis{"one output dead",
                         fmt::format("One output lies {:.1f} dB below the other: its stage or its "
                                     "cable is dead.",
                                     spread_db(e, "level"))};
    constexpr std::array causes{
        one_demand{"dc offset", "DC at the output",
                   "The outputs stand {} off zero under a note: DC, as from a lost coupling "
                   "capacitor or an offset in the firmware's sum."},
        one_demand{"level", "level jump",
                   "The level is {}, alike at every output: a gain common to all has changed."},
        one_demand{"clipped samples", "clipping",
                   "{} samples stand at the rail: something is driven into its limits."},
        one_demand{"peak", "peak", "Peaks reach {} although the level is right."},
        one_demand{"silence", "noise in silence",
                   "With the gate low {} are left: noise, hum or bleed."},
    };
    return first_of(e, causes);
}

std::optional<diagnosis> diagnose_stereo(const evidence& e) {
    const auto* gain = e.worst("gain difference");
    const auto* polarity = e.answered("polarity");
    if (gain != nullptr && std::abs(gain->value) > 20.0)
        return diagnosis{"one output dead",
                         fmt::format("The second output is at {} against the first: one of them is "
                                     "dead or unplugged.",
                                     decibels_text(gain->value))};
    if (e.failed("polarity") && polarity != nullptr)
        return diagnosis{"one output inverted",
                         "The outputs are alike but for their sign: one stage or one cable is "
                         "inverted."};
    if (e.failed("delay"))
        return diagnosis{"one output late",
                         fmt::format("The second output is {} late: a sample or a "
                                     "buffer too many in its way.",
                                     text_of(e, "delay"))};
    if (e.failed("gain difference"))
        return diagnosis{"one output quieter",
                         fmt::format("The second output differs by {}, and in nothing else: its "
                                     "stage's gain.",
                                     gain == nullptr ? "?" : decibels_text(gain->value))};
    if (e.only_failed("null depth"))
        return diagnosis{"outputs differ",
                         fmt::format("The difference of both outputs is only {} down although "
                                     "gain and delay are right: one of them carries something of "
                                     "its own (noise, distortion, another filter).",
                                     text_of(e, "null depth"))};
    return std::nullopt;
}

}  // namespace cvrig
