#include "rig/calibration/actor.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rig/console/drain_errors.hpp"
#include "rig/console/filled_line.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

using what = act_result::what;

/// An answer that is not the right one is the module's; none at all may be anybody's.
act_result not_ok(const console_reply& reply, const std::string& sentence) {
    return reply.line.empty() ? act_result{what::bench, reply.problem}
                              : act_result{what::refused, sentence};
}

}  // namespace

bool actor::can_pulse(const calibration_act& act) const {
    return act.pulse && parts_.source != nullptr &&
           std::ranges::find(parts_.desk.outputs, act.pulse->jack, &bench_output::jack) !=
               parts_.desk.outputs.end();
}

bool actor::is_by_line(const calibration_act& act) const {
    return act.console && parts_.talks != nullptr;
}

bool actor::can(const calibration_act& act) const {
    return is_by_line(act) || can_pulse(act) || (act.operator_instruction && parts_.ask);
}

console_reply actor::ask(const line_pattern& line,
                         const std::map<std::string, std::string>& names) const {
    if (parts_.talks == nullptr) return {};
    dialogue_line filled{filled_line(line.send, names), std::nullopt, line.where};
    if (line.expect) filled.expect = filled_line(*line.expect, names);
    return parts_.talks->ask(filled);
}

act_result actor::look(const calibration_act& act,
                       const std::map<std::string, std::string>& names) const {
    if (!act.then || parts_.talks == nullptr) return {};
    const auto is = ask(*act.then, names);
    if (is.ok) return {what::done, {}, true};
    return not_ok(is, fmt::format("Asked {}, the module answers {}.",
                                  quoted(filled_line(act.then->send, names)), quoted(is.line)));
}

act_result actor::obeyed(const calibration_act& act, const std::string& done,
                         const std::map<std::string, std::string>& names) const {
    if (parts_.talks == nullptr) return {};
    bool is_seen = false;
    if (parts_.module.console && parts_.module.console->no_error) {
        const auto fine = parts_.talks->ask(*parts_.module.console->no_error);
        if (!fine.ok)
            return not_ok(fine,
                          fmt::format("After {} the module reports {}.", done, quoted(fine.line)));
        is_seen = true;
    }
    auto looked = look(act, names);
    if (!looked.is_done()) looked.reason = fmt::format("After {}: {}", done, looked.reason);
    looked.is_seen = looked.is_seen || is_seen;
    return looked;
}

act_result actor::by_console(const calibration_act& act,
                             const std::map<std::string, std::string>& names) const {
    const auto line = filled_line(*act.console, names);
    drain_errors(*parts_.talks, parts_.module.console);
    const auto sent = parts_.talks->ask({line, std::nullopt, act.where});
    if (!sent.ok) return {what::bench, sent.problem};
    return obeyed(act, quoted(line), names);
}

act_result actor::by_pulse(const calibration_act& act,
                           const std::map<std::string, std::string>& names,
                           const std::map<std::string, volts>& held) {
    if (parts_.talks != nullptr) drain_errors(*parts_.talks, parts_.module.console);
    auto pulsed = held;
    pulsed[act.pulse->jack] = act.pulse->to;
    auto problem = parts_.source->hold(pulsed);
    // Half a pulse may be another command.
    if (problem.empty() && parts_.source->is_real()) parts_.wait_whole(act.pulse->length);
    const auto after = parts_.source->hold(held);
    if (problem.empty()) problem = after;
    if (!problem.empty()) return {what::bench, problem};
    return obeyed(act, fmt::format("a pulse at jack {}", quoted(act.pulse->jack)), names);
}

act_result actor::by_hand(const calibration_act& act,
                          const std::map<std::string, std::string>& names) {
    auto instruction = filled_line(*act.operator_instruction, names);
    const auto shows = act.shows ? filled_line(*act.shows, names) : std::string{};
    if (act.shows) instruction += fmt::format(" (it worked if {}; s if it did not)", shows);
    if (parts_.talks != nullptr) drain_errors(*parts_.talks, parts_.module.console);
    const auto answer = parts_.ask({instruction, ++actions_, 0});
    switch (answer.became) {
        case hand_result::what::done: {
            auto result = obeyed(act, "that", names);
            result.is_seen = result.is_seen || act.shows.has_value();
            return result;
        }
        case hand_result::what::skipped:
            if (act.shows)
                return {what::refused,
                        fmt::format("The operator says that it did not show that {}.", shows)};
            return {what::needs_hand, answer.reason};
        case hand_result::what::aborted:
            break;
    }
    return {what::aborted, answer.reason};
}

act_result actor::perform(const calibration_act& act,
                          const std::map<std::string, std::string>& names,
                          const std::map<std::string, volts>& held) {
    if (is_by_line(act)) return by_console(act, names);
    if (can_pulse(act)) return by_pulse(act, names, held);
    if (!act.operator_instruction)
        return {what::needs_hand,
                fmt::format("{}: this bench has no way to do it; give the file another one.",
                            act.where.text())};
    if (!parts_.ask)
        return {what::needs_hand, fmt::format("This needs a hand and nobody is there: {}.",
                                              filled_line(*act.operator_instruction, names))};
    return by_hand(act, names);
}

}  // namespace cvrig
