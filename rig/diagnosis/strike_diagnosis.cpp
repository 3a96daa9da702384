#include <fmt/format.h>

#include <cmath>
#include <string>

#include "rig/diagnosis/evidence.hpp"

namespace cvrig {

namespace {

// Which envelopes of a transition did not do what they should, and what they did.
struct wrong_strike {
    bool amplitude;
    bool filter;
    std::string did;
};

wrong_strike look_at(const evidence& e, const std::string& transition) {
    wrong_strike out{};
    for (const auto& f : e.result.findings) {
        if (f.outcome != verdict::fail || !f.name.starts_with(transition + ",")) continue;
        (f.name.ends_with("amplitude envelope") ? out.amplitude : out.filter) = true;
        if (f.answered) out.did = f.answered->text;
    }
    return out;
}

std::optional<diagnosis> about(const evidence& e, const std::string& transition,
                               const std::string& again, const std::string& not_again) {
    const auto w = look_at(e, transition);
    if (!w.amplitude && !w.filter) return std::nullopt;
    const bool strikes = w.did.starts_with("starts again");
    if (w.amplitude != w.filter)
        return diagnosis{
            fmt::format("{} envelope alone", w.amplitude ? "amplitude" : "filter"),
            fmt::format("At {}, only the {} envelope {}: the two envelopes are started in "
                        "different places of the firmware.",
                        transition, w.amplitude ? "amplitude" : "filter",
                        strikes ? "starts again" : "goes on")};
    return diagnosis{fmt::format("{} {}", transition, strikes ? "strikes" : "does not strike"),
                     fmt::format("At {}, both envelopes {}: {}", transition,
                                 strikes ? "start again" : "go on", strikes ? again : not_again)};
}

}  // namespace

std::optional<diagnosis> diagnose_retrigger(const evidence& e) {
    const std::string rule = "the rule of another mode is applied.";
    if (e.failed("new gate"))
        return about(e, "new gate", rule,
                     "the end of the gate before goes unseen (stuck or slowly polled gate).");
    if (auto found = about(e, "accent", "a rising accent is taken for a gate.", rule)) return found;
    // A slide and a tied step are told apart by the slide's own flag.
    const auto slide = look_at(e, "slide");
    const auto legato = look_at(e, "legato");
    const bool both = (slide.amplitude || slide.filter) && (legato.amplitude || legato.filter);
    if (both && slide.did == legato.did) {
        const bool strikes = slide.did.starts_with("starts again");
        return diagnosis{strikes ? "every step strikes" : "no step strikes",
                         fmt::format("With and without slide, a tied step {}: the mode is not "
                                     "applied, or is another one than the switch says.",
                                     strikes ? "strikes again" : "goes on")};
    }
    if (auto found = about(e, "slide", "sliding is not told from a new note.",
                           "the slide's flag keeps the note from being struck."))
        return found;
    return about(e, "legato", "a tied step is taken for a new note.",
                 "a tied step is not taken for a new note.");
}

std::optional<diagnosis> diagnose_accent(const evidence& e) {
    const auto db = [&](const char* key) {
        const auto* r = e.worst(key);
        return r == nullptr ? 0.0 : r->value;
    };
    const auto text = [&](const char* key) { return decibels_text(db(key)); };
    constexpr double more_than_any_accent_db = 25.0;
    for (const char* key : {"level rise", "next note", "build-up", "fall back"})
        if (std::abs(db(key)) > more_than_any_accent_db)
            return diagnosis{"note missing",
                             fmt::format("Of two notes one does not sound ({}: {}): a strike is "
                                         "lost, which says nothing of accents.",
                                         key, text(key))};
    if (e.failed("next note") && e.failed("level rise") && db("next note") > 1.0)
        return diagnosis{
            "accent one note late",
            fmt::format("The accented note rises by {} only, the plain note after it by "
                        "{}: each note gets the accent of the one before, which is "
                        "read after the strike.",
                        text("level rise"), text("next note"))};
    if (e.failed("level rise") && db("level rise") < 1.0)
        return diagnosis{
            "accent not seen",
            fmt::format("An accent changes the level by {} only: it is read before the "
                        "jack has risen, or not at all.",
                        text("level rise"))};
    if (e.failed("fall back") && db("fall back") > 0.0)
        return diagnosis{"accent never falls back",
                         fmt::format("After a rest an accent is still {} above the first: what has "
                                     "built up does not drain.",
                                     text("fall back"))};
    if (e.failed("build-up") && db("build-up") < 0.3)
        return diagnosis{
            "no build-up",
            fmt::format("Four close accents rise by {}: nothing builds up.", text("build-up"))};
    if (e.failed("decay ratio"))
        return diagnosis{"accented decay",
                         "An accent decays in another time than it should: the "
                         "accent's own decay time is wrong or the knob's is used."};
    if (e.failed("brightness rise") && !e.failed("level rise"))
        return diagnosis{"accent's filter",
                         "The accent's level is right, its brightness is not: "
                         "how far it opens the filter is wrong."};
    if (e.failed("level rise"))
        return diagnosis{
            "accent's level",
            fmt::format("An accent raises the level by {}: its gain is wrong, for it is "
                        "seen on the right notes.",
                        text("level rise"))};
    if (e.only_failed("next note"))
        return diagnosis{"accent lingers", fmt::format("The plain note after an accent differs by "
                                                       "{}: something of the accent is left.",
                                                       text("next note"))};
    return std::nullopt;
}

}  // namespace cvrig
