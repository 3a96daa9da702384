#include "rig/console/operator_prompt.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <string_view>
#include <utility>

#include "rig/console/line_assembler.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

constexpr std::string_view keys =
    "   Enter = done,  r = show again,  s = skip,  a = abort the run (then Enter)\n";

std::string lower(std::string text) {
    std::ranges::transform(text, text.begin(),
                           [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return text;
}

/// "board" in "the board's power", not in "keyboard".
bool has_word(const std::string& text, std::string_view word) {
    const auto is_letter = [&](std::size_t i) {
        return i < text.size() && std::isalpha(static_cast<unsigned char>(text[i])) != 0;
    };
    for (auto at = text.find(word); at != std::string::npos; at = text.find(word, at + 1)) {
        const bool begins = at == 0 || !is_letter(at - 1);
        auto end = at + word.size();
        if (end < text.size() && text[end] == 's') ++end;
        if (begins && !is_letter(end)) return true;
    }
    return false;
}

template <std::size_t N>
bool mention(const std::vector<std::string>& instructions,
             const std::array<std::string_view, N>& words) {
    return std::ranges::any_of(instructions, [&](const std::string& text) {
        return std::ranges::any_of(words,
                                   [&](std::string_view w) { return has_word(lower(text), w); });
    });
}

}  // namespace

operator_prompt::operator_prompt(operator_terminal where, std::stop_token stop)
    : where_{std::move(where)}, stop_{std::move(stop)}, input_{where_.in} {}

void operator_prompt::show(const hand_action& action) const {
    const auto count = action.number <= action.of
                           ? fmt::format("Action {} of {}", action.number, action.of)
                           : fmt::format("Action {}", action.number);
    write_text(where_.out, fmt::format("{}{}: {}\n{}", where_.redraws ? "\r\x1b[K" : "", count,
                                       spelled_out(action.instruction), keys));
}

hand_result operator_prompt::ask(const hand_action& action) {
    using what = hand_result::what;
    input_.forget_what_was_typed();
    if (!std::exchange(warned_, true))
        for (const auto& caution : where_.cautions)
            write_text(where_.out, "Caution: " + caution + "\n");
    show(action);
    for (;;) {
        const auto typed = input_.next(stop_);
        if (typed.how == typed_line::end::stopped)
            return {what::aborted, "The run was stopped while it waited for the operator."};
        if (typed.how == typed_line::end::closed)
            return {what::aborted,
                    "The operator's input ended before the action was done; run at a terminal, or "
                    "with --unattended."};
        const auto answer = lower(squeezed(typed.text));
        if (answer.empty()) return {what::done, {}};
        if (answer == "s")
            return {what::skipped,
                    fmt::format("The operator skipped it: {}.", squeezed(action.instruction))};
        if (answer == "a") return {what::aborted, "The operator ended the run."};
        if (answer != "r")
            write_text(where_.out, fmt::format("{} is none of the keys.\n",
                                               cvrig::quoted(spelled_out(answer))));
        show(action);
    }
}

std::vector<std::string> cautions_for(const std::vector<std::string>& instructions) {
    using std::string_view_literals::operator""sv;
    std::vector<std::string> out;
    if (mention(instructions, std::array{"ribbon"sv, "jumper"sv, "header"sv, "board"sv, "power"sv}))
        out.emplace_back(
            "switch the case off and wait before you touch a ribbon cable, a jumper or a board, "
            "and check the ribbon's polarity before you switch it on again. Leave anything that "
            "is mains-powered closed.");
    if (mention(instructions,
                std::array{"cable"sv, "patch"sv, "plug"sv, "unplug"sv, "connect"sv, "jack"sv}))
        out.emplace_back(
            "take off headphones and turn monitors down before you move a cable: the bench puts "
            "out DC, which destroys loudspeakers and hurts ears.");
    return out;
}

}  // namespace cvrig
