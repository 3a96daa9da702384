#include "rig/run/unproven_jacks.hpp"

#include <fmt/format.h>
#include <algorithm>

namespace cvrig {

namespace {

bool needs(const run_plan& plan, const check_result& result, const std::string& jack) {
    for (const auto& take : plan.takes)
        for (const auto& check : take.checks)
            if (check.wanted->name == result.check && check.choice == result.choice)
                return check.moved.contains(jack);
    return false;
}

}  // namespace

void doubt_failures(std::vector<check_result>& results, const run_plan& plan,
                    std::span<const std::string> unproven_jacks) {
    for (auto& result : results) {
        const auto jack = std::ranges::find_if(
            unproven_jacks, [&](const auto& name) { return needs(plan, result, name); });
        if (jack == unproven_jacks.end()) continue;
        for (auto& f : result.findings) {
            if (f.outcome != verdict::fail) continue;
            f.outcome = verdict::unsure;
            f.reason = fmt::format(
                "Nothing was heard of jack {}: its cable is missing, or this build ignores it; "
                "look at the cable, or try a build that is known to be good. {}",
                *jack, f.reason);
        }
    }
}

}  // namespace cvrig
