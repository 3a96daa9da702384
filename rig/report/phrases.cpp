#include "rig/report/phrases.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace cvrig::report {

std::string counted(std::size_t n, std::string_view one, std::string_view many) {
    return fmt::format("{} {}", n, n == 1 ? one : many);
}

std::string odds_text(double probability) {
    if (!(probability >= 0.0 && probability <= 1.0)) return "unknown odds";
    if (probability < 1.0 && probability > 0.9995) return "above 99.9 %";
    if (probability > 0.0 && probability < 0.0005) return "below 0.1 %";
    return show(100.0 * probability, dimension::percent, 3);
}

std::string reading_text(const finding& f, double coverage_factor) {
    if (f.measured) {
        const auto& m = *f.measured;
        return show(m.value, coverage_factor * m.standard_uncertainty, m.unit);
    }
    if (f.answered) {
        return fmt::format("{} ({})", f.answered->text, odds_text(f.answered->probability));
    }
    return "no reading";
}

std::string demand_text(const finding& f) {
    if (f.allowed) return f.allowed->text;
    return f.expected ? f.expected->text : std::string{};
}

std::string largest_part_text(const finding& f) {
    if (!f.measured) return {};
    const auto* part = f.measured->largest();
    if (part == nullptr) return {};
    return fmt::format("{}, {} of {}", part->name,
                       show(part->standard_uncertainty, f.measured->unit, 2),
                       show(f.measured->standard_uncertainty, f.measured->unit, 2));
}

std::string sentence(std::string text) {
    if (text.empty()) return text;
    if (text.front() >= 'a' && text.front() <= 'z') {
        text.front() = static_cast<char>(text.front() - 'a' + 'A');
    }
    const std::string_view ends = ".!?:";
    if (ends.find(text.back()) == std::string_view::npos) text += '.';
    return text;
}

namespace {

std::vector<std::string> why_not_met(const finding& f) {
    std::vector<std::string> lines;
    if (f.outcome == verdict::pass) return lines;
    const auto& at = f.measured ? f.measured->at : f.answered ? f.answered->at : std::string{};
    if (!at.empty()) {
        lines.push_back(sentence(f.reason.empty() ? "At " + at : "At " + at + ": " + f.reason));
    } else if (!f.reason.empty()) {
        lines.push_back(sentence(f.reason));
    }
    const auto part = largest_part_text(f);
    if (f.outcome == verdict::unsure && !part.empty()) {
        lines.push_back("Largest part of the standard uncertainty: " + part + ".");
    }
    return lines;
}

}  // namespace

std::vector<std::string> explanation(const finding& f) {
    auto lines = why_not_met(f);
    for (const auto& note : f.notes) lines.push_back("Note: " + note);
    return lines;
}

std::vector<std::string> explainer::of(std::vector<std::string> lines) {
    constexpr std::size_t long_text = 60;
    if (lines.empty()) {
        last_.clear();
        return lines;
    }
    std::size_t letters = 0;
    for (const auto& line : lines) letters += line.size();
    if (lines == last_ && letters > long_text) return {"As above."};
    last_ = lines;
    return lines;
}

std::vector<std::string> explainer::of(const finding& f) {
    return of(explanation(f));
}

std::vector<std::string> causes_of(const check_group& group, const run_layout& layout) {
    std::vector<std::pair<std::string, std::string>> found;  // sentence, where
    for (const auto* result : group.results) {
        if (!result->likeliest) continue;
        const auto same = std::ranges::find(found, result->likeliest->sentence,
                                            &std::pair<std::string, std::string>::first);
        const auto where = layout.label(result->choice);
        if (same == found.end())
            found.emplace_back(result->likeliest->sentence, where);
        else
            same->second += "; " + where;
    }
    std::vector<std::string> lines;
    for (const auto& [cause, where] : found)
        lines.push_back(layout.choices.size() > 1 ? fmt::format("{}: {}", where, cause) : cause);
    return lines;
}

std::vector<std::string> troubles_of(const take_summary& t) {
    std::vector<std::string> all;
    if (!t.skipped.empty()) all.push_back("Not played: " + t.skipped);
    all.insert(all.end(), t.problems.begin(), t.problems.end());
    all.insert(all.end(), t.module_faults.begin(), t.module_faults.end());
    all.insert(all.end(), t.module_doubts.begin(), t.module_doubts.end());
    return all;
}

std::string prepared_text(const run_result& run) {
    std::string text;
    for (const auto& s : run.prepared.steps) {
        const char* done = s.step == "build" ? "built" : "flashed";
        text += fmt::format("{}{} in {}", text.empty() ? "" : ", ", done,
                            show(s.took.value(), dimension::seconds, 3));
    }
    text = sentence(std::move(text));
    for (const auto& fact : run.prepared.facts) text.append(" ").append(sentence(fact));
    return text;
}

std::string tally(const run_result& run) {
    const auto fails = run.count(verdict::fail), unsure = run.count(verdict::unsure);
    const auto skipped = run.count(verdict::skipped), passes = run.count(verdict::pass);
    const auto all = passes + fails + unsure + skipped;
    if (all == 0) return "Nothing was judged.";
    if (passes == all)
        return all == 1 ? "The one demand is met." : fmt::format("All {} demands are met.", all);
    std::string text = fmt::format("{} of {} met", passes, counted(all, "demand", "demands"));
    if (fails > 0) text += fmt::format(", {} not met", fails);
    if (unsure > 0) text += fmt::format(", {} unsure", unsure);
    if (skipped > 0) text += fmt::format(", {} skipped", skipped);
    return text + ".";
}

std::string specimen(const run_result& run) {
    std::string text = run.module.empty() ? "a module without a name" : run.module;
    if (!run.build_name.empty()) text += ", build " + run.build_name;
    if (!run.unit.empty()) text += ", unit " + run.unit;
    return text;
}

std::string_view dimension_name(dimension d) noexcept {
    switch (d) {
        case dimension::volts:
            return "volts";
        case dimension::hertz:
            return "hertz";
        case dimension::seconds:
            return "seconds";
        case dimension::cents:
            return "cents";
        case dimension::decibels:
            return "decibels";
        case dimension::dbu:
            return "dBu";
        case dimension::percent:
            return "percent";
        case dimension::bytes:
            return "bytes";
        case dimension::count:
            return "count";
        case dimension::ratio:
            return "ratio";
    }
    return "ratio";
}

std::optional<dimension> dimension_named(std::string_view word) noexcept {
    for (const auto d : {dimension::volts, dimension::hertz, dimension::seconds, dimension::cents,
                         dimension::decibels, dimension::dbu, dimension::percent, dimension::bytes,
                         dimension::count, dimension::ratio})
        if (dimension_name(d) == word) return d;
    return std::nullopt;
}

}  // namespace cvrig::report
