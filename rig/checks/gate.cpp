#include "rig/checks/gate.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <optional>

#include "analysis/samples.hpp"
#include "analysis/strike_count.hpp"
#include "rig/checks/gate_readings.hpp"
#include "rig/checks/gate_timing.hpp"
#include "rig/checks/listening.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

std::vector<passage> plan(const check_request& request) {
    std::vector<passage> out;
    if (asks_for_slow(request)) out.push_back(slow_gates(request).played);
    if (asks_for_triggers(request))
        for (auto& t : triggers(request)) out.push_back(std::move(t.played));
    if (asks_for_fast(request)) out.push_back(fast_gates(request));
    return out;
}

double u_gate_volts(const check_request& request) {
    for (const auto& o : request.desk.outputs)
        if (o.jack == "gate") return o.u.value();
    return 0.0;
}

void judge_thresholds(findings& out, const check_request& request, const heard_passage& heard) {
    const auto read = read_thresholds(request, heard);
    if (!read) {
        for (const char* key : {"threshold up", "threshold down", "hysteresis"})
            out.doubt(key, read.error(), "the slow gates");
        return;
    }
    const double u_bench = u_gate_volts(request);
    const double up = analysis::mean(read->up_v);
    const double down = analysis::mean(read->down_v);
    out.add("threshold up",
            make_reading(up, dimension::volts,
                         {{"jitter of the strikes", read->u_up_v}, {"bench voltage", u_bench}},
                         "a slow rise"));
    out.add("threshold down",
            make_reading(down, dimension::volts,
                         {{"jitter of the releases", read->u_down_v}, {"bench voltage", u_bench}},
                         "a slow fall"));
    // An offset of the bench is in both; of its gain no more than their distance is a part.
    const double gain_part = std::abs(up - down) / std::max(1.0, std::abs(up));
    out.add("hysteresis", make_reading(up - down, dimension::volts,
                                       {{"jitter of the strikes", read->u_up_v},
                                        {"jitter of the releases", read->u_down_v},
                                        {"bench voltage", u_bench * std::min(1.0, gain_part)}}));
}

void judge_slow_strikes(findings& out, const check_request& request, const heard_passage& heard) {
    const auto counts = count_slow_strikes(request, heard);
    if (!counts) return out.doubt("slow edge strikes", counts.error(), "the slow gates");
    std::vector<reading> all;
    for (std::size_t i = 0; i < counts->size(); ++i) {
        const auto& c = (*counts)[i];
        auto r = make_reading(static_cast<double>(c.strikes), dimension::count, {},
                              fmt::format("{} rise and fall {} at {:.2f} s",
                                          c.rough ? "rough" : "smooth", i + 1, c.begins_s));
        r.where = c.begins_s;
        all.push_back(std::move(r));
    }
    out.add_worst("slow edge strikes", all);
}

plot slow_plot(const check_request& request, const heard_passage& heard) {
    const auto tune = slow_gates(request);
    plot p{.title = "Level while the gate rises and falls slowly",
           .x_label = "gate / V",
           .y_label = "level / V",
           .curves = {},
           .bands = {},
           .note = "The two curves lie apart by the hysteresis."};
    const hertz pitch = request.module.pitch.pitch(gate_note(request));
    const auto course = analysis::follow_fundamental(heard.volts[timed_jack], heard.rate, pitch);
    const auto& first = tune.slow.front();
    for (const auto& [index, name] :
         {std::pair{first.rise_step, "rising"}, std::pair{first.fall_step, "falling"}}) {
        series curve{.name = name, .drawn = series::look::line, .x = {}, .y = {}, .u = {}};
        const auto& s = tune.played.steps[index];
        const double begin = static_cast<double>(heard.step_starts[index]) / heard.rate.value();
        constexpr int points = 200;
        for (int i = 0; i <= points; ++i) {
            const double share = static_cast<double>(i) / points;
            const auto at = static_cast<std::size_t>((begin + share * s.length.value()) /
                                                     course.spacing.value());
            if (at >= course.peak_volts.size()) break;
            curve.x.push_back(
                (s.from.at("gate") + (s.others.at("gate") - s.from.at("gate")) * share).value());
            curve.y.push_back(course.peak_volts[at]);
        }
        p.curves.push_back(std::move(curve));
    }
    return p;
}

plot hits_plot(std::span<const trigger_hits> hits, double coverage_factor) {
    plot p{
        .title = "Share of the triggers that struck",
        .x_label = "width / ms",
        .y_label = "struck / %",
        .curves = {{.name = "triggers", .drawn = series::look::points, .x = {}, .y = {}, .u = {}}},
        .bands = {{.name = "counts as never missed", .lower = 100.0 * sure_share, .upper = 100.0}},
        .note = {}};
    for (const auto& h : hits) {
        p.curves[0].x.push_back(1e3 * h.width.value());
        p.curves[0].y.push_back(100.0 * h.struck / h.sent);
        p.curves[0].u.push_back(50.0 * (h.share.upper - h.share.lower) / coverage_factor);
        p.note += fmt::format("{}{} of {} at {}", p.note.empty() ? "Struck: " : ", ", h.struck,
                              h.sent, show(h.width.value(), dimension::seconds));
    }
    p.note += ".";
    return p;
}

// No trigger at all that was struck, in any width, is no proof of a slow gate: nothing may sound.
bool nothing_struck(std::span<const trigger_hits> hits) {
    return std::ranges::all_of(hits, [](const auto& h) { return h.struck == 0; });
}

void judge_triggers(findings& out, check_result& result, const check_request& request,
                    std::span<const heard_passage> heard) {
    const auto tunes = triggers(request);
    std::vector<trigger_hits> hits;
    for (std::size_t i = 0; i < tunes.size(); ++i) {
        const auto h = count_hits(request, tunes[i], heard[i]);
        if (!h) return out.doubt("shortest trigger", h.error(), "the triggers");
        hits.push_back(*h);
    }
    const double k = request.module.coverage_factor;
    result.plots.push_back(hits_plot(hits, k));
    if (nothing_struck(hits))
        return out.doubt("shortest trigger", analysis::refusal::silent, "any of the triggers");
    const auto b = bracket_of(hits);
    // The interval is all that is known, and it holds with the file's coverage; a standard
    // uncertainty stands for it by which k of them reach its ends.
    auto r =
        make_reading(0.5 * (b.missed_s + b.struck_s), dimension::seconds,
                     {{"widths and number of the triggers", 0.5 * (b.struck_s - b.missed_s) / k}},
                     "triggers at random times");
    out.add("shortest trigger", r);
}

constexpr const char* missed_key = "fast gates missed";
constexpr const char* doubled_key = "fast gates struck twice";

// "gate 4, gate 9 and 3 more of 25"; the passage is the same each time, so a number says where.
std::string gates_in_words(const std::vector<std::size_t>& numbers, std::size_t sent) {
    constexpr std::size_t most_named = 4;
    std::string out;
    for (std::size_t i = 0; i < std::min(numbers.size(), most_named); ++i)
        out += fmt::format("{}gate {}", i == 0 ? "" : ", ", numbers[i]);
    if (numbers.size() > most_named)
        out += fmt::format(" and {} more", numbers.size() - most_named);
    return fmt::format("{} of {}", out.empty() ? "none" : out, sent);
}

reading gates_reading(const std::vector<std::size_t>& numbers, std::size_t sent) {
    return make_reading(static_cast<double>(numbers.size()), dimension::count, {},
                        gates_in_words(numbers, sent));
}

// Fast gates are too short to read a pitch from; that of the slow ones is known where they are played.
void judge_fast(findings& out, const check_request& request, const heard_passage& heard,
                std::optional<hertz> pitch) {
    const auto matched =
        match_fast_gates(heard, pitch.value_or(request.module.pitch.pitch(gate_note(request))));
    if (!matched || matched->all() == 0) {
        const auto why = matched ? analysis::refusal::silent : matched.error();
        for (const char* key : {missed_key, doubled_key}) out.doubt(key, why, "the fast gates");
        return;
    }
    const std::size_t sent = matched->of_gate.size();
    out.add(missed_key, gates_reading(matched->missed(), sent));
    const auto doubled = matched->doubled();
    if (!pitch && 2 * doubled.size() > sent)
        out.doubt(doubled_key,
                  "Most fast gates seem to strike twice, as notes of another pitch would.");
    else
        out.add(doubled_key, gates_reading(doubled, sent));
}

check_result judge_gate(const check_request& request, std::span<const heard_passage> heard) {
    findings out{request};
    check_result result;
    std::size_t next = 0;
    std::optional<hertz> pitch;
    if (asks_for_slow(request)) {
        if (const auto read = gate_pitch(request, heard[next])) pitch = *read;
        judge_thresholds(out, request, heard[next]);
        judge_slow_strikes(out, request, heard[next]);
        result.plots.push_back(slow_plot(request, heard[next]));
        ++next;
    }
    if (asks_for_triggers(request)) {
        const std::size_t count = triggers(request).size();
        judge_triggers(out, result, request, heard.subspan(next, count));
        next += count;
    }
    if (asks_for_fast(request)) judge_fast(out, request, heard[next], pitch);
    result.findings = std::move(out).take();
    return result;
}

key_spec demand(std::string name, dimension unit, std::string meaning) {
    return {.name = std::move(name), .unit = unit, .meaning = std::move(meaning)};
}

key_spec parameter_key(std::string name, dimension unit, std::string meaning) {
    return {.name = std::move(name),
            .kind = key_spec::form::measure,
            .unit = unit,
            .meaning = std::move(meaning)};
}

}  // namespace

check gate_check() {
    return {
        .spec = {.name = "gate",
                 .plays = "gates that rise and fall slowly, smoothly and roughly; triggers of "
                          "shrinking width at random times; gates that follow each other fast",
                 .reads = "where the gate opens and closes, whether a slow edge strikes once, and "
                          "the shortest trigger that is never missed",
                 .keys = {parameter_key("note", dimension::volts,
                                        "the pitch voltage of all notes; a high one is timed best"),
                          parameter_key("roughness", dimension::volts,
                                        "how far a rough edge strays from its way, either side"),
                          parameter_key("fast gates every", dimension::seconds,
                                        "the time from one fast gate to the next"),
                          demand("threshold up", dimension::volts,
                                 "the voltage at which a rising gate strikes is"),
                          demand("threshold down", dimension::volts,
                                 "the voltage at which a falling gate ends the note is"),
                          demand("hysteresis", dimension::volts,
                                 "the voltage between these two is"),
                          demand("slow edge strikes", dimension::count,
                                 "the number of strikes in one slow rise and fall is"),
                          demand("shortest trigger", dimension::seconds,
                                 "the shortest trigger of which surely 90 % strike is"),
                          demand(missed_key, dimension::count,
                                 "the number of fast gates that do not strike is"),
                          demand(doubled_key, dimension::count,
                                 "the number of fast gates that strike more than once is")}},
        .plan = plan,
        .judge = judge_gate};
}

}  // namespace cvrig
