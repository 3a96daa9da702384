#include "rig/run/module_faults.hpp"

#include <fmt/format.h>

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

std::optional<check_result> module_faults::result() const {
    const bool failed = !faults_.sentences.empty();
    const auto& told = failed ? faults_ : doubts_;
    if (told.sentences.empty()) return std::nullopt;
    limit none;
    none.upper = 0.0;
    none.unit = dimension::count;
    none.text = "none";
    finding f;
    f.check = "console";
    f.choice = told.choice;
    f.name = "resets";
    f.allowed = none;
    f.outcome = failed ? verdict::fail : verdict::unsure;
    f.reason = told.sentences.front();
    if (failed)
        f.measured =
            reading{static_cast<double>(told.sentences.size()), dimension::count, 0.0, {}, {}};
    const auto more = told.sentences.size() - 1;
    const std::string what = failed ? "restart" : "such doubt";
    if (more == 1) f.reason += fmt::format(" One more {} stands with its take.", what);
    if (more > 1) f.reason += fmt::format(" {} more {}s stand with their takes.", more, what);
    check_result result;
    result.check = "console";
    result.reads = "what the module's console says during the takes";
    result.choice = told.choice;
    result.findings.push_back(std::move(f));
    return result;
}

}  // namespace cvrig
