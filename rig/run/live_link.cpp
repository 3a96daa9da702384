#include "rig/run/live_link.hpp"

#include <fmt/format.h>

#include <iterator>
#include <utility>

namespace cvrig {

namespace {

void add_log(take& t, std::string_view when, const std::string& log) {
    if (log.empty()) return;
    if (!t.log.empty() && t.log.back() != '\n') t.log += '\n';
    t.log += fmt::format("[console, {}]\n{}", when, log);
}

void add_faults(take& t, const console_record& said) {
    t.module_faults.insert(t.module_faults.end(), said.resets.begin(), said.resets.end());
    t.module_doubts.insert(t.module_doubts.end(), said.doubts.begin(), said.doubts.end());
}

}  // namespace

live_link::live_link(live_parts parts) : parts_{std::move(parts)} {}

bool live_link::is_hopeless() const {
    return parts_.plays.is_hopeless() || silent_in_a_row_ >= 2;
}

take live_link::play(const stimulus& s, const setting_choice& choice, int number, int attempt) {
    take t = begin_take(s, choice, number, attempt);
    if (is_hopeless()) {
        t.problems.emplace_back(
            "The take was not played, since the interface or the module had been lost before.");
        return t;
    }
    const auto set = parts_.sets.set(choice);
    // The console's coming and going before the take does no harm to it: it has been set since. But
    // it leaves open whether the module restarted by itself.
    const auto before = parts_.talks == nullptr ? console_record{} : parts_.talks->cut();
    switch (set.became) {
        case set_result::what::done: {
            auto played = parts_.plays.play(s, choice, number, attempt);
            const auto of_link = std::exchange(played.log, {});
            t = std::move(played);
            add_log(t, "before the take", before.log);
            t.log += of_link;
            play_set(t);
            break;
        }
        case set_result::what::failed:
            ++silent_in_a_row_;
            t.problems.push_back(set.reason);
            add_log(t, "before the take", before.log);
            break;
        case set_result::what::aborted:
            if (parts_.stop_run) parts_.stop_run();
            [[fallthrough]];
        case set_result::what::skipped:
            t.skipped = set.reason;
            add_log(t, "before the take", before.log);
            break;
    }
    t.module_faults.insert(t.module_faults.begin(), before.resets.begin(), before.resets.end());
    t.module_doubts.insert(t.module_doubts.begin(), before.doubts.begin(), before.doubts.end());
    return t;
}

/// What the console says of a take that has just been played.
void live_link::play_set(take& t) {
    if (parts_.talks == nullptr) return;
    if (parts_.alive) {
        const auto answer = parts_.talks->ask(*parts_.alive);
        silent_in_a_row_ = answer.ok ? 0 : silent_in_a_row_ + 1;
        if (!answer.ok) t.problems.push_back("After the take: " + answer.problem);
    }
    const auto during = parts_.talks->cut();
    add_log(t, "during the take", during.log);
    add_faults(t, during);
    t.problems.insert(t.problems.end(), during.problems.begin(), during.problems.end());
}

std::string live_link::description() const {
    if (parts_.talks == nullptr) return parts_.plays.description();
    return fmt::format("{}; console: {}", parts_.plays.description(), parts_.talks->description());
}

}  // namespace cvrig
