#include "rig/run/module_faults.hpp"

#include <fmt/format.h>

#include "rig/run/judging.hpp"

namespace cvrig {

void module_faults::list::add(const take& came_back, const std::vector<std::string>& what) {
    if (what.empty()) return;
    if (sentences.empty()) choice = came_back.choice;
    for (const auto& sentence : what)
        sentences.push_back(fmt::format("Take {}: {}", came_back.number, sentence));
}

void module_faults::add(const take& came_back) {
    faults_.add(came_back, came_back.module_faults);
    doubts_.add(came_back, came_back.module_doubts);
}

std::optional<check_result> module_faults::result(const limit* allowed) const {
    limit none;
    none.upper = 0.0;
    none.unit = dimension::count;
    none.text = "none";
    const auto& wanted = allowed == nullptr ? none : *allowed;
    const reading count{
        static_cast<double>(faults_.sentences.size()), dimension::count, 0.0, {}, {}};
    const bool is_within = wanted.lacks_baseline() || judge(count, wanted, 1.0) == verdict::pass;
    const bool restarted = !faults_.sentences.empty();
    const auto& told = restarted && (!is_within || doubts_.sentences.empty()) ? faults_ : doubts_;
    if (told.sentences.empty()) return std::nullopt;
    finding f;
    f.check = "console";
    f.choice = told.choice;
    f.name = "resets";
    f.allowed = wanted;
    f.outcome = !is_within ? verdict::fail : &told == &faults_ ? verdict::pass : verdict::unsure;
    if (restarted) f.measured = count;
    if (f.outcome != verdict::pass) {
        f.reason = told.sentences.front();
        const auto more = told.sentences.size() - 1;
        const std::string what = &told == &faults_ ? "restart" : "such doubt";
        if (more == 1) f.reason += fmt::format(" One more {} stands with its take.", what);
        if (more > 1) f.reason += fmt::format(" {} more {}s stand with their takes.", more, what);
    }
    check_result result;
    result.check = "console";
    result.reads = "what the module's console says during the takes";
    result.choice = told.choice;
    result.findings.push_back(std::move(f));
    return result;
}

}  // namespace cvrig
