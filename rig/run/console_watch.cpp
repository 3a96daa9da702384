#include "rig/run/console_watch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "rig/expectations/wording.hpp"

namespace cvrig {

std::optional<console_number> told_number(const std::string& text, dimension unit) {
    const auto m = parse_measure(text);
    const bool is_plain = m && m->unit == dimension::ratio;
    if (!m || (!is_plain && m->unit != unit)) return std::nullopt;
    const auto begin = text.find_first_of("+-.0123456789");
    const auto end = std::min(text.find_first_not_of("+-.0123456789", begin), text.size());
    const auto number = text.substr(begin, end - begin);
    // What one of the unit is worth, from the unit itself: of "0 KiB" the number says nothing.
    const auto one = parse_measure(fmt::format("1{}", std::string_view{text}.substr(end)));
    const double scale = one ? std::abs(one->in_base_unit) : 1.0;
    const auto point = number.find('.');
    const auto places =
        point == std::string::npos ? 0.0 : static_cast<double>(number.size() - point - 1);
    return console_number{
        .at = seconds{0.0}, .told = m->in_base_unit, .digit = scale * std::pow(10.0, -places)};
}

std::string version_of(const console_reply& reply) {
    if (!reply.captures.empty() && !reply.captures.front().empty()) return reply.captures.front();
    constexpr std::ptrdiff_t commas = 3;
    if (std::ranges::count(reply.line, ',') != commas) return {};
    return squeezed(reply.line.substr(reply.line.rfind(',') + 1));
}

seconds console_watch::since_begin() const {
    return seconds{std::chrono::duration<double>(clock::now() - begin_).count()};
}

console_reply console_watch::ask(const dialogue_line& line) {
    const auto at = since_begin();
    auto reply = talks_.ask(line);
    if (reply.ok) {
        facts_.answers.push_back({line.send, at, since_begin() - at});
        return reply;
    }
    gave_up_ = true;
    auto& sentence = reply.is_silence ? facts_.silence : facts_.trouble;
    sentence = fmt::format("{} into the run: {}",
                           show(std::round(at.value() * 1e3) * 1e-3, dimension::seconds, 3),
                           reply.problem);
    return reply;
}

void console_watch::ask_number(const std::optional<dialogue_line>& line, dimension unit,
                               std::vector<console_number>& into) {
    if (!line || gave_up_) return;
    const auto reply = ask(*line);
    if (!reply.ok) return;
    auto number = told_number(reply.captures.empty() ? reply.line : reply.captures.front(), unit);
    if (!number) {
        facts_.trouble = fmt::format("The reply {} to {} holds no number; capture it with a group.",
                                     cvrig::quoted(reply.line), cvrig::quoted(line->send));
        return;
    }
    number->at = facts_.answers.back().at;
    into.push_back(*number);
}

void console_watch::begin() {
    begin_ = clock::now();
    if (rules_.identity) {
        facts_.identity_question = rules_.identity->send;
        const auto reply = ask(*rules_.identity);
        facts_.identity = reply.line;
        if (reply.ok) facts_.version = version_of(reply);
        // Another answer is an answer, which is judged; the questions that follow have their own.
        if (!reply.ok && !reply.line.empty()) gave_up_ = false;
    }
    look();
}

void console_watch::look() {
    ask_number(rules_.load, dimension::percent, facts_.load);
    ask_number(rules_.memory, dimension::bytes, facts_.memory);
}

console_facts console_watch::finish() {
    // A short run has few takes, and memory that falls shows only over several looks.
    constexpr std::size_t fewest = 5;
    while (rules_.memory && !gave_up_ && facts_.memory.size() < fewest) {
        const auto before = facts_.memory.size();
        look();
        if (facts_.memory.size() == before) break;
    }
    const auto said = talks_.record();
    facts_.resets = said.resets;
    facts_.doubts = said.doubts;
    return std::move(facts_);
}

}  // namespace cvrig
