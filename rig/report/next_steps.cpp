#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <functional>
#include <iterator>
#include <map>

#include "rig/diagnosis/diagnosis.hpp"
#include "rig/report/phrases.hpp"

namespace cvrig::report {

namespace {

constexpr std::string_view console_check = "console";

void visit(const run_result& run, verdict wanted,
           const std::function<void(const check_result&, const finding&)>& seen) {
    for (const auto& result : run.checks) {
        for (const auto& f : result.findings) {
            if (f.outcome == wanted) seen(result, f);
        }
    }
}

/// What the bench's own proofs want mended.
std::vector<std::string> after_proofs(const run_result& run) {
    std::vector<std::string> steps;
    for (const auto& proof : run.bench.proofs) {
        for (const auto& f : proof.findings) {
            if (f.outcome == verdict::pass || f.reason.empty()) continue;
            const auto step = sentence(f.reason);
            if (std::ranges::find(steps, step) == steps.end()) steps.push_back(step);
        }
    }
    return steps;
}

std::string after_bad_takes(const run_result& run) {
    const auto bad = static_cast<std::size_t>(
        std::count_if(run.takes.begin(), run.takes.end(),
                      [](const take_summary& t) { return !t.problems.empty(); }));
    if (bad == 0) return {};
    return fmt::format(
        "Look at the bench: {} had a problem. Such a take is played again or left unjudged; it "
        "says nothing about the module.",
        counted(bad, "take", "takes"));
}

bool has_own_cause(const check_result& result) {
    return result.likeliest && result.likeliest->cause != no_typical_pattern &&
           result.likeliest->follows_from.empty();
}

/// Where to begin: a failure whose cause is known and its own, else the first.
std::pair<const check_result*, const finding*> first_to_mend(const run_result& run) {
    std::pair<const check_result*, const finding*> first{nullptr, nullptr};
    visit(run, verdict::fail, [&](const check_result& result, const finding& f) {
        if (first.first == nullptr || (!has_own_cause(*first.first) && has_own_cause(result)))
            first = {&result, &f};
    });
    return first;
}

/// The checks whose failures may go with that one.
std::vector<std::string> followers_of(const run_result& run, const check_result& root) {
    std::vector<std::string> names;
    if (!has_own_cause(root)) return names;
    visit(run, verdict::fail, [&](const check_result& result, const finding&) {
        if (!result.likeliest || result.likeliest->follows_from != root.check) return;
        if (result.likeliest->cause == root.likeliest->cause &&
            std::ranges::find(names, result.check) == names.end())
            names.push_back(result.check);
    });
    return names;
}

/// "level, pattern and range".
std::string in_a_row(std::vector<std::string> names) {
    const auto last = names.back();
    names.pop_back();
    return names.empty() ? last : fmt::format("{} and {}", fmt::join(names, ", "), last);
}

std::string after_fails(const run_result& run, const run_layout& layout) {
    const auto [result, f] = first_to_mend(run);
    if (result == nullptr) return {};
    const auto followers = followers_of(run, *result);
    return fmt::format(
        "Begin with {}, {} ({}).{}{} If the module is right and the demand is wrong, change {}.",
        result->check, f->name, layout.label(result->choice),
        has_own_cause(*result) ? fmt::format(" {}", sentence(result->likeliest->sentence)) : "",
        followers.empty()
            ? ""
            : fmt::format(" Once it is mended, {} may pass, too.", in_a_row(followers)),
        run.expectations_file.empty() ? "the expectation file" : run.expectations_file);
}

/// Doubts about the module's console, which says itself what to do.
std::vector<std::string> after_console(const run_result& run) {
    std::vector<std::string> steps;
    visit(run, verdict::unsure, [&](const check_result& result, const finding& f) {
        if (result.check != console_check || f.reason.empty()) return;
        const auto step = sentence(f.reason);
        if (std::ranges::find(steps, step) == steps.end()) steps.push_back(step);
    });
    return steps;
}

/// What helps against the part of the uncertainty that leads most of the unsure readings.
std::string after_unsure(const run_result& run) {
    std::map<std::string, std::size_t> leading;
    std::size_t all = 0;
    visit(run, verdict::unsure, [&](const check_result& result, const finding& f) {
        if (result.check == console_check) return;
        ++all;
        const auto* part = f.measured ? f.measured->largest() : nullptr;
        if (part != nullptr) ++leading[part->name];
    });
    if (all == 0) return {};
    if (run.count(verdict::fail) > 0) {
        return fmt::format(
            "Then run again: {} no verdict yet, and what fails may hide what {} would read.",
            all == 1 ? "one finding has" : fmt::format("{} findings have", all),
            all == 1 ? "it" : "they");
    }
    const auto most =
        std::max_element(leading.begin(), leading.end(),
                         [](const auto& a, const auto& b) { return a.second < b.second; });
    if (most == leading.end()) {
        return "Read the reasons of the unsure findings: the bench gave no reading to judge.";
    }
    return fmt::format(
        "Make the bench surer: {} is the largest part of the uncertainty in {} of {}. A bench "
        "voltage gets better with a better meter and a new trim, an estimator with longer notes.",
        most->first, most->second, counted(all, "unsure finding", "unsure findings"));
}

std::size_t without_baseline(const run_result& run) {
    std::size_t n = 0;
    for (const auto& check : run.checks)
        n += static_cast<std::size_t>(std::ranges::count_if(check.findings, [](const finding& f) {
            return f.outcome == verdict::skipped && !f.does_not_apply && f.measured && f.allowed &&
                   f.allowed->lacks_baseline();
        }));
    return n;
}

std::string after_no_baseline(const run_result& run) {
    const auto n = without_baseline(run);
    if (n == 0) return {};
    return fmt::format(
        "Approve a baseline: {} one. Where this run is as it should be, `cvrig baseline approve "
        "RUN` takes its readings.",
        n == 1 ? "one demand lacks" : fmt::format("{} demands lack", n));
}

std::string after_skipped(const run_result& run) {
    const auto n = run.count(verdict::skipped) - without_baseline(run);
    if (n == 0) return {};
    return fmt::format("Read why {} not tried; most need a hand on the module.",
                       n == 1 ? "one demand was" : fmt::format("{} demands were", n));
}

/// A bench that was tested by itself has no module to mend, and no baseline to keep.
std::vector<std::string> after_self_test(const run_result& run) {
    if (run.outcome() == verdict::pass) return {"Nothing to mend: this bench may judge a module."};
    return {"Mend what the doubted proofs say, one after the other, and test again."};
}

}  // namespace

std::vector<std::string> next_steps(const run_result& run) {
    if (run.takes.empty() && run.expectations_file.empty()) return after_self_test(run);
    auto steps = after_proofs(run);
    if (!steps.empty() && run.count(verdict::pass) + run.count(verdict::fail) == 0) {
        steps.emplace_back("Run again: nothing is judged on a bench that is not proven.");
        return steps;
    }
    std::ranges::copy(after_console(run), std::back_inserter(steps));
    const auto layout = laid_out(run);
    for (auto& step : {after_bad_takes(run), after_fails(run, layout), after_unsure(run),
                       after_no_baseline(run), after_skipped(run)}) {
        if (!step.empty()) steps.push_back(step);
    }
    if (!steps.empty()) return steps;
    if (run.outcome() == verdict::pass) {
        return {
            "Nothing to mend. Keep this run as the baseline that later builds are compared with."};
    }
    return {"Nothing was judged: write checks into the expectation file."};
}

}  // namespace cvrig::report
