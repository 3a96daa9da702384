#include <fmt/format.h>

#include <array>
#include <cmath>

#include "rig/diagnosis/evidence.hpp"

namespace cvrig {

std::optional<diagnosis> diagnose_latency(const evidence& e) {
    const bool scatters = e.failed("jitter") || e.failed("peak to peak") || e.failed("block");
    if (scatters) {
        const auto* block = e.worst("block");
        if (block != nullptr)
            return diagnosis{
                "jitter of one block",
                fmt::format("Delays scatter evenly over {}: the gate is looked at only "
                            "so often, once a block.",
                            show(block->value, dimension::seconds, 3))};
        return diagnosis{"uneven jitter",
                         fmt::format("Delays scatter by {}, but not evenly: something else than a "
                                     "fixed block holds strikes up at times.",
                                     text_of(e, "jitter"))};
    }
    if (e.failed("pitch lead"))
        return diagnosis{"pitch read early",
                         fmt::format("A note needs its pitch {} before its gate: pitch is read "
                                     "before the gate, or is smoothed.",
                                     text_of(e, "pitch lead"))};
    if (e.only_failed("worst"))
        return diagnosis{"single late strikes",
                         fmt::format("A strike comes {} late ({}), others do not: something holds "
                                     "single ones up.",
                                     text_of(e, "worst"), place_of(e, "worst"))};
    if (e.failed("delay") || e.failed("worst"))
        return diagnosis{"late as a whole",
                         fmt::format("Every strike is {} late, with no more scatter than usual: "
                                     "a block or a buffer more in the way.",
                                     text_of(e, "delay"))};
    return std::nullopt;
}

std::optional<diagnosis> diagnose_gate(const evidence& e) {
    // Where clean edges strike twice, too, it is not for want of hysteresis.
    if (e.failed("slow edge strikes") && !e.failed("fast gates struck twice"))
        return diagnosis{
            "slow edges strike twice",
            fmt::format("A slow edge strikes {} times ({}): the threshold has too "
                        "little hysteresis for the noise on it.",
                        text_of(e, "slow edge strikes"), place_of(e, "slow edge strikes"))};
    if (e.failed("threshold up") || e.failed("threshold down"))
        return diagnosis{"threshold",
                         fmt::format("The gate opens at {} and closes at {}: the trip point lies "
                                     "elsewhere.",
                                     text_of(e, "threshold up"), text_of(e, "threshold down"))};
    constexpr std::array causes{
        one_demand{"shortest trigger", "short triggers missed",
                   "Only triggers of {} and more are never missed: the gate is looked at too "
                   "seldom."},
        one_demand{"fast gates missed", "fast gates missed",
                   "Of fast gates {} are missed: a strike or a debounce time locks the next one "
                   "out."},
        one_demand{
            "fast gates struck twice", "gates strike twice",
            "Of fast gates {} strike twice: the gate bounces where it is read, or its edge is "
            "seen twice."},
        one_demand{"hysteresis", "hysteresis", "The trip points lie {} apart."},
    };
    return first_of(e, causes);
}

std::optional<diagnosis> diagnose_pattern(const evidence& e) {
    const auto* wrong = e.worst("wrong steps");
    const auto count = wrong == nullptr ? std::string{"some"} : show(wrong->value, wrong->unit, 3);
    if (e.failed("restarts"))
        return diagnosis{"restarted",
                         fmt::format("Sound stopped {} times in the middle of notes and came back: "
                                     "the module restarts, as by a watchdog.",
                                     text_of(e, "restarts"))};
    if (e.failed("slide") || e.failed("tie"))
        return diagnosis{
            "strikes at wrong steps",
            fmt::format("Envelopes do not do at {} steps what this mode declares; the "
                        "steps that are wrong are listed.",
                        e.failed("slide") ? (e.failed("tie") ? "tied" : "slid") : "tied")};
    if (e.failed("accent"))
        return diagnosis{"accents at wrong steps",
                         "Accented steps are no louder, or plain ones are: the accent is read at "
                         "another time than the strike."};
    if (e.failed("pitch") || e.failed("slid pitch"))
        return diagnosis{"pitch at single steps",
                         fmt::format("{} steps are wrong, by their pitch: it is kept or read too "
                                     "early there.",
                                     count)};
    if (e.failed("wrong steps"))
        return diagnosis{"single wrong steps",
                         fmt::format("{} steps are wrong, of no single kind.", count)};
    return std::nullopt;
}

}  // namespace cvrig
