#include "rig/run/module_faults.hpp"

#include <fmt/format.h>

namespace cvrig {

void module_faults::note(const take& came_back, const std::vector<std::string>& what,
                         std::vector<std::string>& into) {
    if (what.empty()) return;
    if (faults_.empty() && doubts_.empty()) first_choice_ = came_back.choice;
    for (const auto& sentence : what)
        into.push_back(fmt::format("Take {}: {}", came_back.number, sentence));
}

void module_faults::add(const take& came_back) {
    note(came_back, came_back.module_faults, faults_);
    note(came_back, came_back.module_doubts, doubts_);
}

std::optional<check_result> module_faults::result() const {
    if (faults_.empty() && doubts_.empty()) return std::nullopt;
    const bool failed = !faults_.empty();
    limit none;
    none.upper = 0.0;
    none.unit = dimension::count;
    none.text = "none";
    finding f;
    f.check = "console";
    f.choice = first_choice_;
    f.name = "resets";
    f.allowed = none;
    f.outcome = failed ? verdict::fail : verdict::unsure;
    f.reason = failed ? faults_.front() : doubts_.front();
    if (failed)
        f.measured = reading{static_cast<double>(faults_.size()), dimension::count, 0.0, {}, {}};
    if (const auto more = (failed ? faults_ : doubts_).size() - 1; more > 0)
        f.reason += fmt::format(" {} more {} with their takes.", more,
                                failed ? "restarts stand" : "such doubts stand");
    check_result result;
    result.check = "console";
    result.reads = "what the module's console says during the takes";
    result.choice = first_choice_;
    result.findings.push_back(std::move(f));
    return result;
}

}  // namespace cvrig
