#include "rig/run/patch_routes.hpp"

#include <fmt/format.h>

namespace cvrig::patching {

namespace {

using namespace literals;

constexpr seconds lead = 40_ms;
constexpr seconds note_length = 120_ms;

std::optional<volts_in> play_note(player& to_module, const bench& b, const module_expectations& m,
                                  const cast& who) {
    const auto levels = levels_for(b, m);
    score_writer score{b, to_module.rate()};
    if (who.pitch) score.set(*who.pitch, levels.upper);
    if (who.cutoff) score.set(*who.cutoff, levels.high[*who.cutoff]);
    score.hold(lead);
    score.set(*who.gate, levels.high[*who.gate]);
    score.hold(note_length);
    score.rest();
    score.hold(20_ms);
    return to_module.play(std::move(score));
}

std::vector<std::string> sounding_inputs(const bench& b, const volts_in& heard, sample_rate rate) {
    const auto opening = static_cast<std::size_t>(lead.value() * rate.value());
    const auto loud = compare_inputs(heard, opening);
    std::vector<std::string> out;
    for (std::size_t i = 0; i < b.inputs.size(); ++i)
        if (loud.sounds[i]) out.push_back(b.inputs[i].jack);
    return out;
}

}  // namespace

route_reading play_routes(player& to_module, const bench& b, const module_expectations& m,
                          const cast& who, const std::function<bool(const std::string&)>& tell) {
    route_reading out;
    if (!m.routes || !tell || !who.gate) return out;
    out.told = true;
    for (const auto& [jack, line] : m.routes->only) {
        if (!tell(line)) {
            out.problem = fmt::format("The module did not take '{}'.", line);
        } else if (const auto heard = play_note(to_module, b, m, who)) {
            out.heard_at[jack] = sounding_inputs(b, *heard, to_module.rate());
            continue;
        } else {
            out.problem = to_module.problem();
        }
        out.told = false;
        break;
    }
    if (!tell(m.routes->all)) {
        out.told = false;
        out.problem = fmt::format("The module did not take '{}'.", m.routes->all);
    }
    return out;
}

}  // namespace cvrig::patching
