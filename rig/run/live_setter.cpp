#include "rig/run/live_setter.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <string_view>

#include "rig/console/drain_errors.hpp"
#include "rig/console/filled_line.hpp"
#include "rig/expectations/expression.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

using what = set_result::what;

std::string with_value(const std::string& pattern, const std::string& to) {
    return filled_line(pattern, {{"value", to}});
}

char lower(char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
}

std::string lower(std::string text) {
    std::ranges::transform(text, text.begin(), [](char c) { return lower(c); });
    return text;
}

/// Only words of letters have a short form.
std::string short_form(const std::string& word) {
    constexpr std::size_t longest = 4;
    const auto is_letter = [](char c) { return lower(c) >= 'a' && lower(c) <= 'z'; };
    if (word.size() <= longest || !std::ranges::all_of(word, is_letter)) return word;
    const bool vowel = std::string_view{"aeiou"}.find(lower(word[3])) != std::string_view::npos;
    return word.substr(0, vowel ? 3 : longest);
}

}  // namespace

setting_choice fixed_settings(const module_expectations& m) {
    setting_choice fixed;
    for (const auto& s : m.settings)
        if (s.values.size() == 1) fixed[s.name] = s.values.front();
    return fixed;
}

setting_choice prepared_settings(const module_expectations& m) {
    setting_choice prepared;
    for (const auto& s : m.settings)
        if (s.prepared) prepared[s.name] = *s.prepared;
    return prepared;
}

std::string reply_for(const std::string& to, const setting& s) {
    const auto brief = short_form(to);
    const bool ambiguous = std::ranges::any_of(s.values, [&](const std::string& other) {
        return other != to &&
               (lower(short_form(other)) == lower(brief) || lower(other) == lower(brief));
    });
    const auto whole = either_case(to);
    if (ambiguous || brief == to) return fmt::format("[\"']?{}[\"']?", whole);
    return fmt::format("[\"']?({}|{})[\"']?", whole, either_case(brief));
}

live_setter::live_setter(const module_expectations& m, console* talks, live_setter_options options)
    : module_{m}, console_{talks}, options_{std::move(options)} {
    for (const auto& [name, to] : options_.made_before) known_[name] = to;
    forget_lines();
}

bool live_setter::by_console(const setting& s) const {
    return console_ != nullptr && s.console.has_value();
}

bool live_setter::is_known(const std::string& name, const std::string& to) const {
    const auto found = known_.find(name);
    return found != known_.end() && found->second == to;
}

set_result live_setter::set(const setting_choice& next) {
    // Hands first: if one is missing, the rest need not be set.
    for (const auto& s : module_.settings) {
        const auto wanted = next.find(s.name);
        if (by_console(s) || wanted == next.end() || is_known(s.name, wanted->second)) continue;
        auto result = set_by_hand(s, wanted->second);
        if (result.became != what::done) return result;
    }
    return console_ == nullptr ? set_result{} : set_by_lines(next);
}

set_result live_setter::set_by_hand(const setting& s, const std::string& to) {
    const auto instruction = s.operator_instruction
                                 ? with_value(*s.operator_instruction, to)
                                 : fmt::format("Set {} to {}", cvrig::quoted(s.name), to);
    if (!options_.ask)
        return {what::skipped,
                fmt::format("This needs a hand and the run is unattended: {}.", instruction)};
    if (refused_.contains({s.name, to}))
        return {what::skipped, fmt::format("The operator skipped it: {}.", instruction)};
    auto answer = options_.ask({instruction, actions_ + 1, options_.planned_actions});
    if (answer.became == hand_result::what::aborted) return {what::aborted, answer.reason};
    if (answer.became == hand_result::what::skipped) {
        refused_.insert({s.name, to});
        return {what::skipped, answer.reason};
    }
    ++actions_;
    known_[s.name] = to;
    return {};
}

void live_setter::forget_lines() {
    for (const auto& s : module_.settings)
        if (by_console(s)) known_.erase(s.name);
}

/// Again from the beginning if the module restarts meanwhile.
set_result live_setter::set_by_lines(const setting_choice& next) {
    constexpr int most_rounds = 3;
    for (int round = 0; round < most_rounds; ++round) {
        if (restarts_seen_ != console_->restarts()) {
            forget_lines();
            restarts_seen_ = console_->restarts();
            drain_errors(*console_, module_.console);
        }
        set_result result;
        for (const auto& s : module_.settings) {
            const auto wanted = next.find(s.name);
            if (!by_console(s) || wanted == next.end() || is_known(s.name, wanted->second))
                continue;
            result = set_by_line(s, wanted->second);
            if (result.became != what::done) break;
        }
        if (restarts_seen_ == console_->restarts()) return result;
    }
    return {what::failed, "The module restarted again and again while it was being set."};
}

set_result live_setter::set_by_line(const setting& s, const std::string& to) {
    constexpr int most_tries = 2;  // one line may get lost
    known_.erase(s.name);
    std::string problem;
    for (int i = 0; i < most_tries; ++i) {
        const auto restarts = console_->restarts();
        problem = tell(s, to);
        if (problem.empty()) {
            known_[s.name] = to;
            return {};
        }
        if (restarts != console_->restarts()) break;
    }
    return {what::failed, fmt::format("The console did not set {} to {}: {}", cvrig::quoted(s.name),
                                      cvrig::quoted(to), problem)};
}

/// One sentence on what went wrong; empty if it is set.
std::string live_setter::tell(const setting& s, const std::string& to) {
    const auto line = with_value(*s.console, to);
    if (const auto sent = console_->ask({line, std::nullopt, s.where}); !sent.ok)
        return sent.problem;
    if (s.confirm) {
        const auto is = console_->ask({*s.confirm, reply_for(to, s), s.where});
        if (!is.ok && is.line.empty()) return is.problem;
        if (!is.ok)
            return fmt::format("The module answers {} with {}.", cvrig::quoted(*s.confirm),
                               cvrig::quoted(is.line));
    }
    if (!module_.console || !module_.console->no_error) return {};
    const auto fine = console_->ask(*module_.console->no_error);
    if (fine.ok) return {};
    if (fine.line.empty()) return fine.problem;
    return fmt::format("After {} the module reports {}.", cvrig::quoted(line),
                       cvrig::quoted(fine.line));
}

}  // namespace cvrig
