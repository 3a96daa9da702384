#include "rig/run/unproven_jacks.hpp"

#include <fmt/format.h>
#include <algorithm>

namespace cvrig {

namespace {

bool moves(const step& s, const std::string& jack) {
    if (jack == "accent") return s.accent;
    if (jack == "slide") return s.slide;
    return s.others.contains(jack);
}

bool needs(const planned_take& take, const planned_check& check, const std::string& jack) {
    for (std::size_t i = 0; i < check.passage_count; ++i) {
        const auto& steps = take.played.placed[check.first_passage + i].asked.steps;
        if (std::ranges::any_of(steps, [&](const step& s) { return moves(s, jack); })) return true;
    }
    return false;
}

bool needs(const run_plan& plan, const check_result& result, const std::string& jack) {
    for (const auto& take : plan.takes)
        for (const auto& check : take.checks)
            if (check.wanted->name == result.check && check.choice == result.choice)
                return needs(take, check, jack);
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
