#include "rig/checks/pattern_merge.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <iterator>

#include "rig/checks/pattern.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

constexpr std::size_t most_points = 4096;
constexpr std::size_t most_kept_readings = 4096;
constexpr std::size_t longest_reason = 2000;

double excess(const reading& r, const limit& allowed) {
    double out = -INFINITY;
    if (allowed.upper) out = std::max(out, r.value - *allowed.upper);
    if (allowed.lower) out = std::max(out, *allowed.lower - r.value);
    return out;
}

// Several parts may each have much to say of their steps.
void add_reason(finding& f, const finding& more) {
    if (more.reason.empty() || f.reason.size() > longest_reason) return;
    f.reason = f.reason.empty() ? more.reason : f.reason + " " + more.reason;
}

void add_count(const check_request& request, finding& f, finding&& more) {
    if (f.outcome == verdict::skipped || !f.measured) {
        if (more.measured) f.measured = std::move(more.measured);
    } else if (more.measured) {
        f.measured->value += more.measured->value;
        if (f.measured->value == more.measured->value) f.measured->at = more.measured->at;
    }
    add_reason(f, more);
    f.outcome = worse(f.outcome, more.outcome);
    if (f.measured && f.allowed &&
        judge(*f.measured, *f.allowed, request.module.coverage_factor) == verdict::fail)
        f.outcome = verdict::fail;
}

void add_reading(finding& f, finding&& more) {
    if (f.all.size() < most_kept_readings)
        f.all.insert(f.all.end(), std::make_move_iterator(more.all.begin()),
                     std::make_move_iterator(more.all.end()));
    const bool graver = worse(f.outcome, more.outcome) == more.outcome && f.outcome != more.outcome;
    const bool further = f.outcome == more.outcome && f.measured && more.measured && f.allowed &&
                         excess(*more.measured, *f.allowed) > excess(*f.measured, *f.allowed);
    if (!graver && !further) return;
    more.all = std::move(f.all);
    f = std::move(more);
}

void add_answer(finding& f, finding&& more) {
    const bool graver = worse(f.outcome, more.outcome) == more.outcome && f.outcome != more.outcome;
    if (graver) f = std::move(more);
}

void add_points(series& to, const series& from) {
    to.x.insert(to.x.end(), from.x.begin(), from.x.end());
    to.y.insert(to.y.end(), from.y.begin(), from.y.end());
    to.u.insert(to.u.end(), from.u.begin(), from.u.end());
    thin_out(to, most_points);
}

void add_plot(check_result& into, plot&& more) {
    const auto same = std::ranges::find(into.plots, more.title, &plot::title);
    if (same == into.plots.end()) {
        into.plots.push_back(std::move(more));
        return;
    }
    for (auto& curve : more.curves) {
        const auto old = std::ranges::find(same->curves, curve.name, &series::name);
        if (old == same->curves.end())
            same->curves.push_back(std::move(curve));
        else
            add_points(*old, curve);
    }
}

double noted(const check_result& result, const char* name) {
    const auto found = std::ranges::find(result.noted, name, &reading::at);
    return found == result.noted.end() ? 0.0 : found->value;
}

void add_noted(check_result& into, const check_result& more) {
    for (const auto& r : more.noted) {
        const auto same = std::ranges::find(into.noted, r.at, &reading::at);
        if (same == into.noted.end())
            into.noted.push_back(r);
        else
            same->value += r.value;
    }
}

}  // namespace

void tell_slides(check_result& result) {
    auto found = std::ranges::find(result.findings, "slid pitch", &finding::name);
    if (found == result.findings.end())
        found = std::ranges::find(result.findings, "wrong steps", &finding::name);
    const double asked = noted(result, noted_asked);
    if (found == result.findings.end() || asked == 0.0) return;
    found->notes = {fmt::format(
        "Of {:.0f} tied steps, slid or not, {:.0f} could be told to slide or to jump; a small "
        "interval, a low note or a short step hides the difference.",
        asked, noted(result, noted_told))};
}

void thin_out(series& s, std::size_t most) {
    if (s.x.size() <= most) return;
    const auto keep = [](std::vector<double>& all) {
        std::size_t kept = 0;
        for (std::size_t i = 0; i < all.size(); i += 2) all[kept++] = all[i];
        all.resize(kept);
    };
    keep(s.x);
    keep(s.y);
    if (!s.u.empty()) keep(s.u);
}

check_result merge_patterns(const check_request& request, check_result so_far, check_result more) {
    for (auto& f : more.findings) {
        const auto old = std::ranges::find(so_far.findings, f.name, &finding::name);
        if (old == so_far.findings.end())
            so_far.findings.push_back(std::move(f));
        else if (old->expected)
            add_answer(*old, std::move(f));
        else if (old->allowed && old->allowed->unit == dimension::count)
            add_count(request, *old, std::move(f));
        else
            add_reading(*old, std::move(f));
    }
    add_noted(so_far, more);
    tell_slides(so_far);
    for (auto& p : more.plots) add_plot(so_far, std::move(p));
    std::ranges::move(more.clips, std::back_inserter(so_far.clips));
    if (so_far.clips.size() > most_pattern_clips)
        so_far.clips.erase(so_far.clips.begin() + most_pattern_clips, so_far.clips.end());
    so_far.attempts = std::max(so_far.attempts, more.attempts);
    return so_far;
}

}  // namespace cvrig
