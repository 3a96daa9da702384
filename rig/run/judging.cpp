#include "rig/run/judging.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "analysis/uncertainty.hpp"
#include "rig/run/baseline.hpp"

namespace cvrig {

namespace {

std::string doubt_about(const reading& r, double k) {
    const auto* biggest = r.largest();
    std::string sentence =
        fmt::format("The reading lies closer to the limit than its uncertainty of {}",
                    show(k * r.standard_uncertainty, r.unit, 2));
    if (biggest != nullptr) sentence += fmt::format("; most of that is the {}", biggest->name);
    return sentence + ".";
}

// How far a reading lies beyond its interval (negative: inside), to find the worst of many.
double excess(const reading& r, const limit& allowed) {
    double out = -INFINITY;
    if (allowed.upper) out = std::max(out, r.value - *allowed.upper);
    if (allowed.lower) out = std::max(out, *allowed.lower - r.value);
    return out;
}

std::string failure_sentence(const std::string& key, const reading& r, const limit& allowed) {
    return fmt::format("{} is {}, but the file demands {}.", key, show(r.value, r.unit),
                       allowed.text);
}

/// The verdict is that of the reading that lies worst, which is shown.
void take_worst(finding& f, double k) {
    f.outcome = verdict::pass;
    for (const auto& r : f.all) {
        const verdict v = judge(r, *f.allowed, k);
        const bool worse_verdict = worse(v, f.outcome) == v && v != f.outcome;
        const bool further_out =
            v == f.outcome && f.measured && excess(r, *f.allowed) > excess(*f.measured, *f.allowed);
        if (!f.measured || worse_verdict || further_out) {
            f.measured = r;
            f.outcome = v;
        }
    }
}

}  // namespace

reading make_reading(double measured, dimension unit, std::vector<analysis::contribution> budget,
                     std::string at) {
    double sum = 0.0;
    for (const auto& part : budget) sum += part.standard_uncertainty * part.standard_uncertainty;
    return {measured, unit, std::sqrt(sum), std::move(budget), std::move(at)};
}

double widened(double standard_uncertainty, std::size_t degrees_of_freedom) {
    if (degrees_of_freedom == 0) return INFINITY;
    const auto student = analysis::coverage_factor(0.95, static_cast<double>(degrees_of_freedom));
    return student ? standard_uncertainty * *student / 1.959963984540054 : INFINITY;
}

verdict judge(const reading& r, const limit& allowed, double coverage_factor) {
    if (allowed.lacks_baseline()) return verdict::unsure;
    const double u = std::hypot(r.standard_uncertainty, u_of_baseline(allowed));
    const auto decided =
        analysis::decide(r.value, u, coverage_factor, {allowed.lower, allowed.upper});
    if (!decided) return verdict::unsure;
    switch (*decided) {
        case analysis::decision::inside:
            return verdict::pass;
        case analysis::decision::outside:
            return verdict::fail;
        case analysis::decision::undecided:
            break;
    }
    return verdict::unsure;
}

bool findings::wanted(const std::string& key) const {
    const auto found = request_.wanted.keys.find(key);
    return found != request_.wanted.keys.end() && found->second.find(request_.choice) != nullptr;
}

finding findings::blank(const std::string& key) const {
    finding f;
    f.check = request_.wanted.name;
    f.choice = request_.choice;
    f.name = key;
    if (const auto* allowed = request_.wanted.find<limit>(key, request_.choice))
        f.allowed = *allowed;
    if (const auto* expected = request_.wanted.find<word>(key, request_.choice))
        f.expected = *expected;
    return f;
}

void findings::add(const std::string& key, const reading& r) {
    add_worst(key, std::span{&r, 1});
}

void findings::add_worst(const std::string& key, std::span<const reading> all) {
    if (!wanted(key)) return;
    finding f = blank(key);
    if (!f.allowed) return;
    if (all.empty()) return doubt(key, "Nothing could be measured for this demand.");
    const double k = request_.module.coverage_factor;
    f.all.assign(all.begin(), all.end());
    if (f.allowed->of_baseline)
        set_against_baseline(f, k);
    else
        take_worst(f, k);
    if (f.outcome == verdict::fail) f.reason = failure_sentence(key, *f.measured, *f.allowed);
    if (f.outcome == verdict::unsure) f.reason = doubt_about(*f.measured, k);
    found_.push_back(std::move(f));
}

void findings::add(const std::string& key, const answer& a, const std::string& shown_as) {
    if (!wanted(key)) return;
    finding f = blank(key);
    if (!f.expected) return;
    if (!shown_as.empty()) f.name = shown_as;
    const double sure = 0.5 * std::erfc(-request_.module.coverage_factor / std::sqrt(2.0));
    f.answered = a;
    if (a.probability_of_expected >= sure) {
        f.outcome = verdict::pass;
    } else if (1.0 - a.probability_of_expected >= sure) {
        f.outcome = verdict::fail;
        f.reason = fmt::format("{}: the module {}, but the file demands that it {}.", f.name,
                               a.text, f.expected->text);
    } else {
        f.outcome = verdict::unsure;
        f.reason = fmt::format("The odds that it {} are {:.1f} %, not sure enough either way.",
                               f.expected->text, 100.0 * a.probability_of_expected);
    }
    found_.push_back(std::move(f));
}

void findings::doubt(const std::string& key, const std::string& reason,
                     const std::string& shown_as) {
    if (!wanted(key)) return;
    finding f = blank(key);
    if (!shown_as.empty()) f.name = shown_as;
    f.outcome = verdict::unsure;
    f.reason = reason;
    found_.push_back(std::move(f));
}

void findings::pass_over(const std::string& key, const std::string& reason) {
    if (!wanted(key)) return;
    finding f = blank(key);
    f.outcome = verdict::skipped;
    f.reason = reason;
    f.does_not_apply = true;
    found_.push_back(std::move(f));
}

void findings::doubt(const std::string& key, analysis::refusal why, const std::string& at) {
    doubt(key, fmt::format("Could not be measured at {}: {}.", at, analysis::explain(why)));
}

}  // namespace cvrig
