#include "rig/run/runner.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <algorithm>
#include <deque>
#include <future>
#include <iterator>
#include <limits>
#include <memory>
#include <optional>
#include <utility>

#include "rig/platform/cpu_time.hpp"
#include "rig/run/baseline.hpp"
#include "rig/run/module_faults.hpp"

namespace cvrig {

namespace {

// A module answers a little after the stimulus; this much of the silence behind a passage is kept
// with it.
constexpr seconds tail{0.058};

std::vector<double> doubles(const std::vector<float>& v, std::size_t begin, std::size_t end) {
    end = std::min(end, v.size());
    begin = std::min(begin, end);
    return {v.begin() + static_cast<std::ptrdiff_t>(begin),
            v.begin() + static_cast<std::ptrdiff_t>(end)};
}

heard_passage hear(const placed_passage& placed, const score& played, const take& came_back) {
    const sample_rate rate = played.volts.rate;
    heard_passage out{.asked = placed.asked,
                      .rate = rate,
                      .step_starts = {},
                      .end = placed.end_sample - placed.first_sample,
                      .volts = {},
                      .silence = {}};
    for (const std::size_t start : placed.step_starts)
        out.step_starts.push_back(start - placed.first_sample);
    const auto after = static_cast<std::size_t>(tail.value() * rate.value());
    for (const auto& jack : came_back.heard) {
        out.volts.push_back(doubles(jack, placed.first_sample, placed.end_sample + after));
        out.silence.push_back(doubles(jack, played.silence_first, played.silence_end));
    }
    return out;
}

finding not_judged(const planned_check& planned, const std::string& key, verdict outcome,
                   const std::string& reason) {
    finding f;
    f.check = planned.wanted->name;
    f.choice = planned.choice;
    f.name = key;
    if (const auto* l = planned.wanted->find<limit>(key, planned.choice)) f.allowed = *l;
    if (const auto* w = planned.wanted->find<word>(key, planned.choice)) f.expected = *w;
    f.outcome = outcome;
    f.reason = reason;
    return f;
}

// The keys under which the file demands something in this choice.
std::vector<std::string> demands_of(const planned_check& planned) {
    std::vector<std::string> out;
    for (const auto& key : planned.what->spec.keys) {
        const auto held = planned.wanted->keys.find(key.name);
        if (key.is_demand() && held != planned.wanted->keys.end() &&
            held->second.find(planned.choice) != nullptr)
            out.push_back(key.name);
    }
    return out;
}

// Every demand of a check, unsure or skipped for one reason.
check_result all_alike(const planned_check& planned, verdict outcome, const std::string& reason) {
    check_result out;
    for (const auto& key : demands_of(planned))
        out.findings.push_back(not_judged(planned, key, outcome, reason));
    return out;
}

// A finding may tell more than its key: "slide (amplitude)".
bool tells_of(const finding& f, const std::string& key) {
    return f.name == key || f.name.starts_with(key + " (") || f.name.starts_with(key + ":") ||
           f.name.starts_with(key + ",");
}

// A demand that a check passed over in silence would look as if it had been met.
void add_unjudged(check_result& result, const planned_check& planned) {
    if (planned.what->conclude != nullptr) return;
    for (const auto& key : demands_of(planned)) {
        const bool told = std::ranges::any_of(result.findings,
                                              [&](const finding& f) { return tells_of(f, key); });
        if (!told)
            result.findings.push_back(not_judged(planned, key, verdict::skipped,
                                                 "Nothing of this is judged with these settings "
                                                 "on this bench."));
    }
}

check_result judge_planned(const planned_take& planned, const planned_check& one,
                           const take& came_back, const module_expectations& m, const bench& b) {
    if (!came_back.skipped.empty()) return all_alike(one, verdict::skipped, came_back.skipped);
    if (!came_back.problems.empty())
        return all_alike(
            one, verdict::unsure,
            fmt::format("The take could not be judged: {}", fmt::join(came_back.problems, " ")));
    if (!came_back.module_faults.empty())
        return all_alike(one, verdict::unsure,
                         fmt::format("The take could not be judged: {}",
                                     fmt::join(came_back.module_faults, " ")));
    std::vector<heard_passage> heard;
    for (std::size_t i = 0; i < one.passage_count; ++i)
        heard.push_back(
            hear(planned.played.placed[one.first_passage + i], planned.played, came_back));
    auto result = one.what->judge({m, b, *one.wanted, one.choice, one.attempt, one.part}, heard);
    add_unjudged(result, one);
    return result;
}

struct analysed {
    std::vector<check_result> results;
    seconds cpu{0.0};
};

analysed analyse(const planned_take& planned, const take& came_back, const module_expectations& m,
                 const bench& b) {
    const seconds before = thread_cpu_time();
    auto results = judge_take(planned, came_back, m, b);
    return {std::move(results), thread_cpu_time() - before};
}

std::vector<std::string> names_of(const std::vector<planned_check>& checks) {
    std::vector<std::string> out;
    for (const auto& one : checks) out.push_back(one.wanted->name);
    return out;
}

take_summary summarise(const planned_take& planned, const take& came_back, int number) {
    take_summary s{.number = number,
                   .choice = planned.choice,
                   .length = planned.length(),
                   .checks = names_of(planned.checks),
                   .attempt = planned.attempt,
                   .problems = came_back.problems,
                   .log = came_back.log,
                   .skipped = came_back.skipped,
                   .module_faults = came_back.module_faults,
                   .module_doubts = came_back.module_doubts};
    return s;
}

// The run in the making: takes go out in order, their analyses come in behind.
class run_in_progress {
public:
    run_in_progress(link& to_module, const module_expectations& m, const bench& b,
                    const run_watch& watch, seconds planned)
        : link_{to_module}, module_{m}, bench_{b}, watch_{watch}, planned_{planned} {}

    void expect(int takes) { takes_ = takes; }
    void add_planned(seconds more) {
        planned_ += more;
        ++takes_;
    }

    // Plays one take and starts its analysis; false if the run was stopped.
    bool play(const planned_take& planned) {
        if (watch_.stop.stop_requested()) {
            outcome_.stopped = true;
            return false;
        }
        ++number_;
        if (watch_.progress)
            watch_.progress({number_, takes_, planned.choice, outcome_.sound, planned_,
                             planned.attempt, names_of(planned.checks)});
        const auto now = ready(planned);
        take came_back = link_.play(now->played.volts, planned.choice, number_, planned.attempt);
        if (watch_.taken) watch_.taken(came_back);
        outcome_.takes.push_back(summarise(planned, came_back, number_));
        faults_.add(came_back);
        if (came_back.skipped.empty()) last_choice_ = planned.choice;
        // Of a take that was refused or lost, nothing sounded that anybody could judge.
        if (came_back.skipped.empty() && !came_back.heard.empty()) {
            outcome_.sound += planned.length();
        } else {
            planned_ -= planned.length();
        }
        finish();
        waiting_for_ = now;
        waiting_ = std::async(std::launch::async, [this, now, heard = std::move(came_back)] {
            return analyse(*now, heard, module_, bench_);
        });
        return true;
    }

    // Takes in the analysis that runs, if one does.
    void finish() {
        if (!waiting_.valid()) return;
        analysed done = waiting_.get();
        outcome_.analysis_cpu += done.cpu;
        for (std::size_t i = 0; i < done.results.size(); ++i)
            store(waiting_for_->checks[i], std::move(done.results[i]));
    }

    [[nodiscard]] std::vector<planned_check> unsure(int retakes) const {
        std::vector<planned_check> out;
        if (link_.is_hopeless()) return out;
        for (const auto& j : judged_)
            if (!j.folded && j.result.outcome() == verdict::unsure && j.planned.attempt <= retakes)
                out.push_back(j.planned);
        return out;
    }

    run_outcome take_outcome() {
        fold([](const judged_check&) { return true; });
        for (auto& j : judged_) outcome_.checks.push_back(std::move(j.result));
        return std::move(outcome_);
    }

    [[nodiscard]] const setting_choice& last_choice() const noexcept { return last_choice_; }
    [[nodiscard]] std::optional<check_result> faults() const {
        const auto console = std::ranges::find(module_.checks, "console", &check_expectation::name);
        return faults_.result(console == module_.checks.end() ? nullptr
                                                              : console->find<limit>("resets", {}));
    }

private:
    struct judged_check {
        planned_check planned;
        check_result result;
        bool folded{false};  ///< stands for several parts, which are not played again
    };

    // The take with its score, which one that is rendered later has only from here until it is
    // judged.
    std::shared_ptr<const planned_take> ready(const planned_take& planned) const {
        if (!planned.rendered_later) return {std::shared_ptr<void>{}, &planned};
        auto now = std::make_shared<planned_take>(planned);
        now->played = rendered(planned, module_, bench_);
        return now;
    }

    // A retake that was not played leaves what was read before, and is the last one.
    void store(const planned_check& planned, check_result result) {
        const auto old = std::ranges::find_if(judged_, [&](const judged_check& j) {
            return !j.folded && j.planned.wanted == planned.wanted &&
                   j.planned.choice == planned.choice && j.planned.part == planned.part;
        });
        if (old == judged_.end()) {
            judged_.push_back({planned, std::move(result)});
        } else if (result.outcome() == verdict::skipped) {
            old->planned.attempt = std::numeric_limits<int>::max();
        } else {
            *old = {planned, std::move(result)};
        }
        fold([this](const judged_check& j) {
            return j.result.outcome() != verdict::unsure || j.planned.attempt > module_.retakes;
        });
    }

    // Of a check in many takes, one result is kept for all parts that are done with.
    template <class Done>
    void fold(const Done& done) {
        const auto may = [&](const judged_check& j) {
            return j.planned.what->merge != nullptr && (j.folded || done(j));
        };
        for (std::size_t i = 0; i < judged_.size(); ++i) {
            for (std::size_t k = i + 1; may(judged_[i]) && k < judged_.size();) {
                auto &into = judged_[i], &from = judged_[k];
                if (from.planned.wanted != into.planned.wanted ||
                    from.planned.choice != into.planned.choice || !may(from)) {
                    ++k;
                    continue;
                }
                const check_request request{module_, bench_, *into.planned.wanted,
                                            into.planned.choice, into.planned.attempt};
                into.result = into.planned.what->merge(request, std::move(into.result),
                                                       std::move(from.result));
                into.folded = true;
                judged_.erase(judged_.begin() + static_cast<std::ptrdiff_t>(k));
            }
        }
    }

    link& link_;
    const module_expectations& module_;
    const bench& bench_;
    const run_watch& watch_;
    seconds planned_;
    int takes_{0};
    int number_{0};
    run_outcome outcome_;
    module_faults faults_;
    setting_choice last_choice_;
    std::vector<judged_check> judged_;
    std::shared_ptr<const planned_take> waiting_for_;
    std::future<analysed> waiting_;
};

std::vector<planned_take> retakes_for(std::vector<planned_check> again,
                                      const module_expectations& m, const bench& b) {
    std::vector<planned_take> out;
    while (!again.empty()) {
        const auto first = again.front();
        // What is played in takes of its own is so again: together they might last for hours.
        const bool alone = first.what->parts != nullptr;
        const auto rest =
            alone ? again.begin() + 1
                  : std::stable_partition(again.begin(), again.end(), [&](const planned_check& p) {
                        return p.choice == first.choice && p.attempt == first.attempt &&
                               p.what->parts == nullptr;
                    });
        out.push_back(plan_retake(m, b, {again.begin(), rest}));
        again.erase(again.begin(), rest);
    }
    return out;
}

run_plan in_good_order(std::vector<planned_take> takes, const run_watch& watch,
                       const setting_choice& now) {
    run_plan plan{std::move(takes)};
    return watch.order ? watch.order(std::move(plan), now) : plan;
}

// The order of the file: by check, then by choice as listed there.
void order_results(std::vector<check_result>& results, const module_expectations& m) {
    const auto rank = [&](const check_result& r) {
        const auto wanted = std::ranges::find(m.checks, r.check, &check_expectation::name);
        const auto choice = std::ranges::find(wanted->in, r.choice);
        return std::pair{wanted - m.checks.begin(), choice - wanted->in.begin()};
    };
    std::ranges::stable_sort(results, {}, rank);
}

}  // namespace

std::vector<check_result> judge_take(const planned_take& planned, const take& came_back,
                                     const module_expectations& m, const bench& b) {
    std::vector<check_result> out;
    for (const auto& one : planned.checks) {
        auto result = judge_planned(planned, one, came_back, m, b);
        result.check = one.wanted->name;
        result.reads = one.what->spec.reads;
        result.measurement_version = one.what->spec.measurement_version;
        result.choice = one.choice;
        result.attempts = one.attempt;
        out.push_back(std::move(result));
    }
    return out;
}

std::vector<check_result> concluded(std::vector<check_result> results, const module_expectations& m,
                                    const bench& b) {
    std::vector<check_result> out;
    for (std::size_t i = 0; i < results.size();) {
        const std::string name = results[i].check;
        std::vector<check_result> family;
        for (; i < results.size() && results[i].check == name; ++i)
            family.push_back(std::move(results[i]));
        const auto* what = find_check(name);
        const auto wanted = std::ranges::find(m.checks, name, &check_expectation::name);
        std::vector<check_result> more;
        if (what != nullptr && what->conclude != nullptr && wanted != m.checks.end() &&
            family.size() > 1)
            more = what->conclude(m, b, *wanted, family);
        // What only served to conclude from has judged nothing by itself.
        if (!more.empty())
            std::erase_if(family, [](const check_result& r) { return r.findings.empty(); });
        std::ranges::move(family, std::back_inserter(out));
        for (auto& result : more) {
            result.check = name;
            result.reads = what->spec.reads;
            result.measurement_version = what->spec.measurement_version;
            out.push_back(std::move(result));
        }
    }
    return out;
}

run_outcome run(const run_plan& plan, link& to_module, const module_expectations& m, const bench& b,
                const run_watch& watch) {
    std::deque<run_plan> retakes;  // outlive what analyses them, also when a link throws
    run_in_progress s{to_module, m, b, watch, plan.sound()};
    s.expect(static_cast<int>(plan.takes.size()));
    bool going = true;
    for (const auto& take : plan.takes) going = going && s.play(take);
    s.finish();
    while (going) {
        retakes.push_back(
            in_good_order(retakes_for(s.unsure(m.retakes), m, b), watch, s.last_choice()));
        const auto& again = retakes.back();
        if (again.takes.empty()) break;
        for (const auto& take : again.takes) s.add_planned(take.length());
        for (const auto& take : again.takes) going = going && s.play(take);
        s.finish();
    }
    auto faults = s.faults();
    auto outcome = s.take_outcome();
    order_results(outcome.checks, m);
    outcome.checks = concluded(std::move(outcome.checks), m, b);
    if (faults) outcome.checks.push_back(std::move(*faults));
    skip_without_baseline(outcome.checks);
    return outcome;
}

}  // namespace cvrig
