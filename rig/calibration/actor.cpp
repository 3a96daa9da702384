#include "rig/calibration/actor.hpp"

#include <fmt/format.h>

#include "rig/console/filled_line.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

using what = act_result::what;

std::string said(const console_reply& reply) {
    return reply.line.empty() ? reply.problem
                              : fmt::format("The module answers {}.", quoted(reply.line));
}

}  // namespace

bool actor::can(const calibration_act& act) const {
    return (act.console && parts_.talks != nullptr) || (act.pulse && parts_.source != nullptr) ||
           (act.operator_instruction && parts_.ask);
}

console_reply actor::ask(const line_pattern& line,
                         const std::map<std::string, std::string>& names) const {
    if (parts_.talks == nullptr) return {};
    dialogue_line filled{filled_line(line.send, names), std::nullopt, line.where};
    if (line.expect) filled.expect = filled_line(*line.expect, names);
    return parts_.talks->ask(filled);
}

/// What went wrong before is not the fault of what is done next. Bounded, since a module may report
/// the same error for ever.
void actor::forget_errors() const {
    if (!parts_.module.console || !parts_.module.console->no_error) return;
    constexpr int most = 10;
    for (int i = 0; i < most && !parts_.talks->ask(*parts_.module.console->no_error).ok; ++i) {
    }
}

act_result actor::obeyed(const calibration_act& act, const std::string& done,
                         const std::map<std::string, std::string>& names) const {
    if (parts_.talks == nullptr) return {};
    if (parts_.module.console && parts_.module.console->no_error) {
        const auto fine = parts_.talks->ask(*parts_.module.console->no_error);
        if (!fine.ok && fine.line.empty()) return {what::refused, fine.problem};
        if (!fine.ok)
            return {what::refused,
                    fmt::format("After {} the module reports {}.", done, quoted(fine.line))};
    }
    if (!act.then) return {};
    const auto is = ask(*act.then, names);
    if (is.ok) return {};
    return {what::refused, fmt::format("After {} the module was asked {}: {}", done,
                                       quoted(filled_line(act.then->send, names)), said(is))};
}

act_result actor::by_console(const calibration_act& act,
                             const std::map<std::string, std::string>& names) const {
    const auto line = filled_line(*act.console, names);
    forget_errors();
    const auto sent = parts_.talks->ask({line, std::nullopt, act.where});
    if (!sent.ok) return {what::refused, sent.problem};
    return obeyed(act, quoted(line), names);
}

act_result actor::by_pulse(const calibration_act& act,
                           const std::map<std::string, std::string>& names,
                           std::map<std::string, volts> held) {
    if (parts_.talks != nullptr) forget_errors();
    auto pulsed = held;
    pulsed[act.pulse->jack] = act.pulse->to;
    auto problem = parts_.source->hold(pulsed);
    if (problem.empty() && parts_.source->is_real()) parts_.wait(act.pulse->length);
    const auto after = parts_.source->hold(held);
    if (problem.empty()) problem = after;
    if (!problem.empty()) return {what::refused, problem};
    return obeyed(act, fmt::format("a pulse at jack {}", quoted(act.pulse->jack)), names);
}

act_result actor::by_hand(const calibration_act& act,
                          const std::map<std::string, std::string>& names) {
    auto instruction = filled_line(*act.operator_instruction, names);
    if (act.shows)
        instruction +=
            fmt::format(" (it worked if {}; s if it did not)", filled_line(*act.shows, names));
    const auto answer = parts_.ask({instruction, ++actions_, 0});
    switch (answer.became) {
        case hand_result::what::done:
            return obeyed(act, "that", names);
        case hand_result::what::skipped:
            if (act.shows)
                return {what::refused,
                        fmt::format("The operator says that it did not show that {}.",
                                    filled_line(*act.shows, names))};
            [[fallthrough]];
        case hand_result::what::aborted:
            break;
    }
    return {what::needs_hand, answer.reason};
}

act_result actor::perform(const calibration_act& act,
                          const std::map<std::string, std::string>& names,
                          const std::map<std::string, volts>& held) {
    if (act.console && parts_.talks != nullptr) return by_console(act, names);
    if (act.pulse && parts_.source != nullptr) return by_pulse(act, names, held);
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
