#include "demo/strike_rules.hpp"

namespace ferrule {
namespace {

constexpr strikes both{true, true};

strikes at_step(mode which, bool sliding, const fault_set& faults) {
    if (which == mode::struck) {
        const auto dumb = sliding ? fault::slide_fails_to_strike : fault::step_fails_to_strike;
        return faults.has(dumb) ? strikes{} : both;
    }
    if (faults.has(sliding ? fault::slide_strikes : fault::legato_strikes)) return both;
    return {sliding && faults.has(fault::amplitude_only_strikes),
            sliding && faults.has(fault::filter_only_strikes)};
}

}  // namespace

strikes strikes_for(mode which, const events& now, const fault_set& faults) noexcept {
    if (!now.gate) return {};
    if (now.gate_rose) {
        const bool dead = which == mode::wide && faults.has(fault::trigger_dead_in_mode);
        return dead ? strikes{} : both;
    }
    if (now.accent_rose && faults.has(fault::accent_strikes)) return both;
    return now.stepped ? at_step(which, now.slide, faults) : strikes{};
}

}  // namespace ferrule
