#include "rig/run/module_faults.hpp"

#include <fmt/format.h>

namespace cvrig {

void module_faults::add(const take& came_back) {
    if (came_back.module_faults.empty()) return;
    if (sentences_.empty()) first_choice_ = came_back.choice;
    for (const auto& fault : came_back.module_faults)
        sentences_.push_back(fmt::format("Take {}: {}", came_back.number, fault));
}

std::optional<check_result> module_faults::result() const {
    if (sentences_.empty()) return std::nullopt;
    limit none;
    none.upper = 0.0;
    none.unit = dimension::count;
    none.text = "none";
    finding f;
    f.check = "console";
    f.choice = first_choice_;
    f.name = "resets";
    f.measured = reading{static_cast<double>(sentences_.size()), dimension::count, 0.0, {}, {}};
    f.allowed = none;
    f.outcome = verdict::fail;
    f.reason = sentences_.front();
    if (sentences_.size() > 1)
        f.reason += fmt::format(" {} more restarts stand with their takes.", sentences_.size() - 1);
    check_result result;
    result.check = "console";
    result.reads = "what the module's console says during the takes";
    result.choice = first_choice_;
    result.findings.push_back(std::move(f));
    return result;
}

}  // namespace cvrig
