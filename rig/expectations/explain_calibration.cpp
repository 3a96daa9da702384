#include "rig/expectations/explain_calibration.hpp"

#include <fmt/format.h>

#include <vector>

#include "rig/expectations/limit.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

/// Every way to do it, the one that a bench prefers first.
std::string ways(const calibration_act& act) {
    std::vector<std::string> all;
    if (act.console) {
        auto line = fmt::format("the line {}", quoted(*act.console));
        if (act.then)
            line += fmt::format(", after which {} must be answered with {}", quoted(act.then->send),
                                quoted(act.then->expect.value_or("anything")));
        all.push_back(line);
    }
    if (act.pulse)
        all.push_back(fmt::format(
            "{} at jack {} for {}", show(act.pulse->to.value(), dimension::volts),
            quoted(act.pulse->jack), show(act.pulse->length.value(), dimension::seconds)));
    if (act.operator_instruction) {
        auto hand = fmt::format("by hand: {}", *act.operator_instruction);
        if (act.shows) hand += fmt::format(" (it worked if {})", *act.shows);
        all.push_back(hand);
    }
    std::string text;
    for (const auto& way : all) text += (text.empty() ? "" : "; else ") + way;
    return text;
}

std::string step(std::string_view what, const std::optional<calibration_act>& act) {
    return act ? fmt::format("  {}  {}\n", what, ways(*act)) : std::string{};
}

}  // namespace

std::string explain_calibration(const module_expectations& m) {
    if (!m.calibration) return {};
    const auto& rules = *m.calibration;
    std::vector<std::string> voltages;
    for (const volts v : rules.voltages) voltages.push_back(show(v.value(), dimension::volts));
    auto text = fmt::format(
        "\ncalibration, by `cvrig calibrate` alone\n  gives jack 'pitch' {}, each confirmed after "
        "{}\n",
        listed(voltages), show(rules.settle.value(), dimension::seconds));
    text += step("enter:  ", rules.enter) + step("confirm:", rules.confirm) +
            step("store:  ", rules.store) + step("abandon:", rules.abandon);
    text += fmt::format(
        "  demands that\n    - error: every note of the check tracking is off, afterwards, by {}\n",
        in_words(rules.error));
    for (const auto& what : rules.survives)
        text += fmt::format("    - {}: the pitch moves, when that is survived, by {} ({})\n",
                            what.name, in_words(rules.kept), ways(what.act));
    return text;
}

std::string explain_calibration_keys() {
    return R"~(calibration: how a module is calibrated with known voltages, for `cvrig calibrate`
How it is done; each of enter, confirm, store, abandon and whatever is survived says one way or several, and a bench
uses the first that it can: {console: LINE, then: {send: LINE, expect: REPLY}}, {pulse: {jack: ..., to: 5 V, for: 50 ms}},
{operator: what a person is to do, shows: what that person sees if it worked}
  voltages: [1 V, 2 V, 3 V], at jack 'pitch', in this order
  settle: 0.3 s, before each voltage is confirmed
  enter: how the module begins to be calibrated; may be left out
  confirm: what tells the module that a voltage stands at its jack; {number} and {volts} stand for those of the voltage
  store: what keeps the new constants; may be left out if the last voltage does
  abandon: what leaves the calibration without new constants
  is over: {send: LINE, expect: REPLY}, which matches when the module is not being calibrated
  seen: {send: LINE, expect: "(NUMBER)"}, what the module made of voltage {number}
  constants: {read: {send: LINE, expect: "(OFFSET),(GAIN)"}, write: "LINE {offset} {gain}"}, where volts = offset + gain * code
      and {..., table: {at: [0 V, 1 V, ...], read: {send: LINE, expect: "(VOLTS)"}, write: "LINE {number} {volts}"}}, which is added to that
  survives: {power cycle: ..., settings reset: ..., re-flash: ...}, how each is done
What it can demand that:
  error: every note of the check tracking is off, afterwards, by ...
      such as: within 5 cent
  kept: the pitch moves, when something is survived, by ... (within 1 cent if it is left out)
      such as: within 1 cent
)~";
}

}  // namespace cvrig
