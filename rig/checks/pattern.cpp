#include "rig/checks/pattern.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <algorithm>
#include <cmath>

#include "rig/checks/listening.hpp"
#include "rig/checks/pattern_judgement.hpp"
#include "rig/checks/pattern_merge.hpp"
#include "rig/checks/pattern_readings.hpp"
#include "rig/checks/pattern_steps.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

using kind = pattern_step::kind;

constexpr std::size_t most_named = 8;
constexpr std::size_t longest_list = 600;

std::optional<limit> limit_of(const check_request& request, const char* key) {
    const auto* found = request.wanted.find<limit>(key, request.choice);
    return found == nullptr ? std::nullopt : std::optional{*found};
}

std::optional<bool> strikes(const check_request& request, const char* key) {
    const auto* found = request.wanted.find<word>(key, request.choice);
    if (found == nullptr) return std::nullopt;
    return found->text == "starts again";
}

step_demands demands_of(const check_request& request) {
    return {.pitch = limit_of(request, "pitch"),
            .slid_pitch = limit_of(request, "slid pitch"),
            .accent = limit_of(request, "accent"),
            .slide_strikes = strikes(request, "slide"),
            .tie_strikes = strikes(request, "tie")};
}

std::string in_seconds(seconds t) {
    return fmt::format("{:.3f} s", t.value());
}

// The reset itself is told first: what it made wrong is then no riddle.
std::string silence_sentence(const pattern_part& part, const silent_stretch& s) {
    return fmt::format("From {} to {} nothing sounded: the module may have restarted.",
                       in_seconds(part.begins + s.from), in_seconds(part.begins + s.to));
}

std::vector<std::size_t> wrong_steps(const judged_pattern& judged) {
    std::vector<std::size_t> out;
    for (std::size_t i = 0; i < judged.steps.size(); ++i)
        if (!judged.steps[i].wrong.empty()) out.push_back(i);
    return out;
}

std::string wrong_sentence(const pattern_part& part, const judged_pattern& judged,
                           const std::vector<std::size_t>& wrong) {
    std::vector<std::string> named;
    for (const auto i : wrong) {
        if (named.size() == most_named) break;
        named.push_back(
            fmt::format("{}: {}", name_of_step(part, i), fmt::join(judged.steps[i].wrong, ", ")));
    }
    std::string out = fmt::format("{}", fmt::join(named, "; "));
    if (!out.empty()) out.front() = static_cast<char>(std::toupper(out.front()));
    if (wrong.size() > named.size())
        out += fmt::format("; and {} more", wrong.size() - named.size());
    return out + ".";
}

reading count_of(std::size_t count) {
    return make_reading(static_cast<double>(count), dimension::count, {});
}

// A count with its steps in words: the sentence that findings make of the number would tell less.
void explain_failure(std::vector<finding>& all, const char* key, const std::string& sentence) {
    const auto found = std::ranges::find(all, key, &finding::name);
    if (found != all.end() && found->outcome == verdict::fail) found->reason = sentence;
}

// Where much is open, none wrong is no proof that none is.
constexpr double most_open_share = 0.2;

void add_word(findings& out, const check_request& request, const pattern_part& part,
              const judged_pattern& judged, kind what, const char* key, const char* steps) {
    std::size_t asked = 0, right = 0, wrong = 0;
    for (std::size_t i = 0; i < judged.steps.size(); ++i) {
        if (part.steps[i].what != what || !judged.steps[i].asked_strike) continue;
        ++asked;
        if (judged.steps[i].struck_right) ++(*judged.steps[i].struck_right ? right : wrong);
    }
    const auto* expected = request.wanted.find<word>(key, request.choice);
    if (expected == nullptr) return;
    const auto told = static_cast<double>(right + wrong);
    if (right + wrong == 0 ||
        (wrong == 0 && told < (1.0 - most_open_share) * static_cast<double>(asked)))
        return out.doubt(key, fmt::format("Of {} {} steps only {} could be told surely.", asked,
                                          steps, right + wrong));
    // Each step was told with the odds of its own; one that is surely wrong decides.
    const char* other = expected->text == "goes on" ? "starts again" : "goes on";
    out.add(key, {.text = wrong > 0 ? other : expected->text,
                  .probability = 0.999,
                  .probability_of_expected = wrong > 0 ? 0.001 : 0.999,
                  .at = fmt::format("{} of {} {} steps", wrong > 0 ? wrong : right, asked, steps)});
}

plot error_plot(const pattern_part& part, const judged_pattern& judged,
                const step_demands& demanded) {
    plot p{.title = "Pitch of every step",
           .x_label = "step",
           .y_label = "pitch error / cent",
           .curves = {},
           .bands = {},
           .note =
               "A wrong step is marked on the curve of its own, whatever is wrong with it; a "
               "step without a pitch stands at 0."};
    series plain{.name = "steps", .drawn = series::look::points, .x = {}, .y = {}, .u = {}};
    series slid{.name = "slid steps", .drawn = series::look::points, .x = {}, .y = {}, .u = {}};
    series wrong{.name = "wrong steps", .drawn = series::look::points, .x = {}, .y = {}, .u = {}};
    for (std::size_t i = 0; i < judged.steps.size(); ++i) {
        const auto& s = judged.steps[i];
        const bool is_wrong = !s.wrong.empty();
        if (!s.pitch && !is_wrong) continue;
        auto& curve = is_wrong ? wrong : part.steps[i].what == kind::slid ? slid : plain;
        curve.x.push_back(static_cast<double>(part.first + i));
        curve.y.push_back(s.pitch ? s.pitch->value : 0.0);
    }
    p.curves = {std::move(plain), std::move(slid), std::move(wrong)};
    if (demanded.pitch)
        p.bands.push_back({"demanded of a step", demanded.pitch->lower, demanded.pitch->upper});
    return p;
}

// The step with the one before it, since half of what a step does wrong is how it begins.
sound_clip clip_of(const heard_passage& heard, const pattern_part& part, std::size_t i) {
    const auto start_of = [&](std::size_t step) {
        return heard.step_starts[part.steps[step].played_step];
    };
    const std::size_t begin = start_of(i > 0 ? i - 1 : 0);
    const std::size_t end = i + 1 < part.steps.size() ? start_of(i + 1) : heard.end;
    sound_clip out{
        .name = fmt::format("step-{}", part.first + i), .rate = heard.rate, .channels = {}};
    for (const auto& jack : heard.volts) {
        const auto piece = cvrig::part(jack, begin, end);
        out.channels.emplace_back(piece.begin(), piece.end());
    }
    return out;
}

std::vector<reading> readings_of(const pattern_part& part, const judged_pattern& judged,
                                 bool slid) {
    std::vector<reading> out;
    for (std::size_t i = 0; i < judged.steps.size(); ++i)
        if (judged.steps[i].pitch && (part.steps[i].what == kind::slid) == slid)
            out.push_back(*judged.steps[i].pitch);
    return out;
}

std::vector<reading> accents_of(const judged_pattern& judged) {
    std::vector<reading> out;
    for (const auto& s : judged.steps)
        if (s.accent) out.push_back(*s.accent);
    return out;
}

std::string open_sentence(std::size_t steps, double open) {
    return fmt::format("Of {} steps {:.0f} could not be told surely.", steps, open);
}

// What could not be told is no fault of the module.
void add_judged(findings& out, const check_request& request, std::size_t steps, double open) {
    const auto share =
        make_reading(100.0 * (1.0 - open / static_cast<double>(steps)), dimension::percent, {});
    const auto allowed = limit_of(request, "judged");
    if (!allowed) return;
    if (allowed->lacks_baseline() ||
        judge(share, *allowed, request.module.coverage_factor) == verdict::pass)
        out.add("judged", share);
    else
        out.doubt("judged", open_sentence(steps, open));
}

struct counted {
    std::vector<std::size_t> wrong;
    std::vector<silent_stretch> resets;
};

counted add_counts(findings& out, const check_request& request, const pattern_part& part,
                   const pattern_readings& read, const judged_pattern& judged) {
    counted found;
    found.wrong = wrong_steps(judged);
    std::ranges::copy_if(read.silences, std::back_inserter(found.resets),
                         [](const silent_stretch& s) { return s.cut_a_note; });
    const auto open = static_cast<double>(
        std::ranges::count_if(judged.steps, [](const judged_step& s) { return s.open; }));
    const double open_share = open / static_cast<double>(part.steps.size());
    const auto* allowed = request.wanted.find<limit>("wrong steps", request.choice);
    const bool would_pass = allowed == nullptr || !allowed->upper ||
                            static_cast<double>(found.wrong.size()) <= *allowed->upper;
    if (would_pass && open_share > most_open_share)
        out.doubt("wrong steps",
                  fmt::format("Of {} steps {} could not be told surely.", part.steps.size(), open));
    else
        out.add("wrong steps", count_of(found.wrong.size()));
    out.add("restarts", count_of(found.resets.size()));
    add_judged(out, request, part.steps.size(), open);
    return found;
}

// Of how many tied steps, slid or not, it could be told whether the pitch slides.
void note_told_slides(check_result& result, const judged_pattern& judged) {
    std::size_t asked = 0, told = 0;
    for (const auto& s : judged.steps) {
        asked += s.asked_slide ? 1U : 0U;
        told += s.slid ? 1U : 0U;
    }
    result.noted = {make_reading(static_cast<double>(asked), dimension::count, {}, noted_asked),
                    make_reading(static_cast<double>(told), dimension::count, {}, noted_told)};
    tell_slides(result);
}

check_result judge_pattern(const check_request& request, std::span<const heard_passage> heard) {
    findings out{request};
    check_result result;
    const auto part = pattern_of(request);
    const auto demanded = demands_of(request);
    const auto read = read_pattern(request, part, heard[0]);
    const auto judged = judge_steps(request, part, read, demanded);
    if (judged.doubt) {
        for (const char* key :
             {"pitch", "slid pitch", "accent", "slide", "tie", "wrong steps", "restarts", "judged"})
            out.doubt(key, *judged.doubt);
        result.findings = std::move(out).take();
        return result;
    }
    out.add_worst("pitch", readings_of(part, judged, false));
    out.add_worst("slid pitch", readings_of(part, judged, true));
    out.add_worst("accent", accents_of(judged));
    add_word(out, request, part, judged, kind::slid, "slide", "slid");
    add_word(out, request, part, judged, kind::tied, "tie", "tied");
    const auto [wrong, resets] = add_counts(out, request, part, read, judged);
    result.findings = std::move(out).take();
    note_told_slides(result, judged);
    std::string silences;
    for (const auto& s : resets)
        if (silences.size() < longest_list) silences += silence_sentence(part, s) + " ";
    explain_failure(result.findings, "wrong steps", silences + wrong_sentence(part, judged, wrong));
    if (!resets.empty())
        explain_failure(result.findings, "restarts", silence_sentence(part, resets.front()));
    result.plots.push_back(error_plot(part, judged, demanded));
    for (std::size_t k = 0; k < std::min(wrong.size(), most_pattern_clips); ++k)
        result.clips.push_back(clip_of(heard[0], part, wrong[k]));
    return result;
}

std::vector<key_spec> keys() {
    using form = key_spec::form;
    const auto parameter_key = [](const char* name, dimension unit, const char* meaning) {
        return key_spec{.name = name, .kind = form::measure, .unit = unit, .meaning = meaning};
    };
    const std::vector<std::string> words{"goes on", "starts again"};
    return {
        {.name = "steps",
         .kind = form::measure,
         .unit = dimension::count,
         .meaning = "how many steps are played; 32000 take an hour",
         .most = most_pattern_steps},
        parameter_key("seed", dimension::count, "the number that names the random line"),
        parameter_key("step length", dimension::seconds, "the time from step to step"),
        parameter_key("gate length", dimension::percent,
                      "the share of a step for which its gate is high, if the next is not tied"),
        parameter_key("slide share", dimension::percent,
                      "the share of tied steps with the slide on"),
        parameter_key("tie share", dimension::percent, "the share of tied steps without slide"),
        parameter_key("accent share", dimension::percent, "the share of accented notes"),
        parameter_key("rest share", dimension::percent, "the share of rests"),
        parameter_key("lowest", dimension::volts, "the pitch voltage of the lowest note"),
        parameter_key("highest", dimension::volts, "the pitch voltage of the highest note"),
        parameter_key("cutoff", dimension::volts, "the cutoff voltage while they sound"),
        parameter_key("slide time", dimension::seconds,
                      "the time constant that slides should have"),
        {.name = "pitch",
         .unit = dimension::cents,
         .meaning = "every step that does not slide is off its pitch by",
         .for_each_event = true},
        {.name = "slid pitch",
         .unit = dimension::cents,
         .meaning = "every slid step is off the course of its slide by",
         .for_each_event = true},
        {.name = "accent",
         .unit = dimension::decibels,
         .meaning = "every accented strike is louder than a plain one by",
         .for_each_event = true},
        {.name = "slide",
         .kind = form::word,
         .words = words,
         .meaning = "at every slid step the note"},
        {.name = "tie",
         .kind = form::word,
         .words = words,
         .meaning = "at every tied step without slide the note"},
        {.name = "wrong steps",
         .unit = dimension::count,
         .meaning = "the number of wrong steps is"},
        {.name = "restarts",
         .unit = dimension::count,
         .meaning = "the number of silences that cut a note is"},
        {.name = "judged",
         .unit = dimension::percent,
         .meaning = "the share of steps of which all that is asked could be told is"}};
}

}  // namespace

check pattern_check() {
    return {
        .spec = {.name = "pattern",
                 .plays = "a random bass line of struck, accented, tied and slid steps and rests",
                 .reads = "every step's pitch, strike and accent: wrong steps by number",
                 .keys = keys()},
        .plan = pattern_passages,
        .judge = judge_pattern,
        .parts = pattern_parts,
        .merge = merge_patterns};
}

}  // namespace cvrig
