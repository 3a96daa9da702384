#include "rig/run/result.hpp"

#include <algorithm>
#include <functional>

namespace cvrig {

// Who judged nothing has not passed: an empty check or run counts as skipped.
verdict check_result::outcome() const noexcept {
    if (findings.empty()) return verdict::skipped;
    const bool any = std::ranges::any_of(findings, std::not_fn(&finding::does_not_apply));
    verdict worst = any ? verdict::pass : verdict::skipped;
    for (const auto& f : findings)
        if (!f.does_not_apply) worst = worse(worst, f.outcome);
    return worst;
}

const finding* check_result::find(std::string_view name) const noexcept {
    const auto found = std::ranges::find(findings, name, &finding::name);
    return found == findings.end() ? nullptr : &*found;
}

bool bench_account::is_empty() const noexcept {
    return proofs.empty() && facts.empty() && cannot_exclude.empty();
}

// What is not proven is in doubt, also where it was skipped.
verdict bench_account::outcome() const noexcept {
    const bool proven = std::ranges::all_of(
        proofs, [](const check_result& p) { return p.outcome() == verdict::pass; });
    return proven && !proofs.empty() ? verdict::pass : verdict::unsure;
}

verdict run_result::outcome() const noexcept {
    if (checks.empty()) return verdict::skipped;
    verdict worst = verdict::pass;
    for (const auto& c : checks) worst = worse(worst, c.outcome());
    return worst;
}

std::size_t run_result::count(verdict v) const noexcept {
    std::size_t n = 0;
    for (const auto& c : checks) {
        n += static_cast<std::size_t>(
            std::count_if(c.findings.begin(), c.findings.end(),
                          [v](const finding& f) { return f.outcome == v && !f.does_not_apply; }));
    }
    return n;
}

}  // namespace cvrig
