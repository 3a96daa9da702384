#include "rig/calibration/calibration_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rig/calibration/allowed.hpp"
#include "rig/calibration/causes.hpp"
#include "rig/calibration/moved_line.hpp"
#include "rig/calibration/told_constants.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

constexpr const char* completes = "completes";
constexpr const char* keeps_them = "keeps them";

std::string in_cents(double x) {
    return show(x, dimension::cents, 3);
}

keyed_value everywhere(value v, const place& where) {
    return {.setting = {}, .by_value = {}, .otherwise = std::move(v), .where = where};
}

/// The demands that the file's section makes, as those of a check.
check_expectation demands_of(const calibration_rules& rules, const setting_choice& choice) {
    check_expectation out;
    out.name = "calibration";
    out.in = {choice};
    out.where = rules.where;
    out.keys["procedure"] = everywhere(word{completes}, rules.where);
    out.keys["error"] = everywhere(rules.error, rules.where);
    out.keys["constants"] = everywhere(word{keeps_them}, rules.where);
    for (const auto& what : rules.survives)
        out.keys[what.name] = everywhere(rules.kept, what.act.where);
    return out;
}

/// Whether the module is another one after its calibration, for the ear or by what it tells.
bool tells_apart(const calibration_story& s) {
    if (tells_the_same(s, s.before, s.after) == false) return true;
    return std::ranges::any_of(
        moved_notes(s.before.notes, s.after.notes), [&](const moved_note& n) {
            return std::abs(n.moved_cents) - s.coverage_factor * n.u_cents > most_allowed(s.kept);
        });
}

constexpr const char* all_alike =
    "The module sounds, and tells, the same as before its calibration, so nothing shows whether "
    "new "
    "constants survive.";

void judge_procedure(findings& out, const calibration_story& s) {
    const auto& p = s.procedure;
    using end = procedure_result::end;
    const std::string key = "procedure";
    if (p.how == end::completed && (p.is_seen || tells_apart(s)))
        return out.add(key, answer{completes, 1.0, 1.0, {}});
    if (p.how == end::completed)
        return out.doubt(
            key,
            "Nothing shows that the module took a voltage: it did not say so, nobody saw "
            "it, and it sounds as before.");
    if (p.how == end::refused) {
        const auto word = p.stuck_at ? fmt::format("sticks at {}", p.stage)
                                     : fmt::format("fails while {}", p.stage);
        return out.add(key, answer{word, 1.0, 0.0, {}});
    }
    out.doubt(key, fmt::format("It ended at {}: {}", p.stage, p.reason));
}

/// No pitch was heard, which may be the fault of a cable; but constants that put every note off by a
/// semitone are nobody's but the module's.
void judge_by_told_alone(findings& out, const calibration_story& s) {
    constexpr double surely_wrong_cents = 100.0;
    const auto line = line_of(told_notes_after(s));
    if (!line || line->size() < surely_wrong_cents) return;
    out.add(
        "constants",
        answer{fmt::format("has constants that put it off by {} at {} and {} at {}",
                           in_cents(line->low_cents), show(line->low_volts, dimension::volts),
                           in_cents(line->high_cents), show(line->high_volts, dimension::volts)),
               1.0,
               0.0,
               {}});
}

/// By what the module tells: two calibrations of one unit can be told apart where no ear could. Only of
/// a module that tells its constants and was put through something.
void judge_constants(findings& out, const calibration_story& s) {
    if (!s.after.told) return;
    if (s.after.notes.empty()) return judge_by_told_alone(out, s);
    if (s.survived.empty()) return;
    if (const auto* lost = first_told_loss(s)) {
        const bool back = tells_the_same(s, s.before, *lost).value_or(false);
        return out.add("constants",
                       answer{fmt::format("has {} after the {}",
                                          back ? "the old ones again" : "others", lost->name),
                              1.0,
                              0.0,
                              {}});
    }
    const bool all_told = std::ranges::all_of(
        s.survived, [](const tracking_moment& m) { return m.told.has_value(); });
    if (!tells_apart(s)) return out.doubt("constants", all_alike);
    if (!all_told)
        return out.doubt("constants", "The module did not tell its constants every time.");
    out.add("constants", answer{keeps_them, 1.0, 1.0, {}});
}

std::vector<reading> errors_of(const calibration_story& s, const tracking_moment& moment) {
    std::vector<reading> all;
    for (const auto& n : moment.notes) {
        auto r = make_reading(
            n.error_cents, dimension::cents,
            {{"pitch estimator", n.u_cents}, {"bench voltage and clock", s.u_common_cents}},
            fmt::format("{} going {}", show(n.at_volts, dimension::volts),
                        n.upward ? "up" : "down"));
        r.where = n.at_volts;
        all.push_back(std::move(r));
    }
    return all;
}

std::string why_not_after(const calibration_story& s) {
    if (!s.before.problem.empty() && s.before.notes.empty())
        return "Nothing was calibrated, since the tracking could not be measured before: " +
               s.before.problem;
    if (!s.procedure.is_complete()) return "The procedure did not come to its end.";
    return s.after.problem.empty() ? "It was stopped before this was measured." : s.after.problem;
}

void judge_error(findings& out, const calibration_story& s) {
    if (s.after.notes.empty()) return out.doubt("error", why_not_after(s));
    out.add_worst("error", errors_of(s, s.after));
}

void judge_survival(findings& out, const calibration_story& s, const std::string& name) {
    const auto later = std::ranges::find(s.survived, name, &tracking_moment::name);
    if (later == s.survived.end()) return out.doubt(name, why_not_after(s));
    std::vector<reading> moved;
    for (const auto& n : moved_notes(s.after.notes, later->notes)) {
        moved.push_back(make_reading(n.moved_cents, dimension::cents,
                                     {{"pitch estimator", n.u_cents}},
                                     fmt::format("{} going {}", show(n.at_volts, dimension::volts),
                                                 n.upward ? "up" : "down")));
        moved.back().where = n.at_volts;
    }
    if (moved.empty()) return out.doubt(name, later->problem);
    const bool is_kept = std::ranges::all_of(moved, [&](const reading& r) {
        return judge(r, s.kept, s.coverage_factor) == verdict::pass;
    });
    if (is_kept && !tells_apart(s)) return out.doubt(name, all_alike);
    out.add_worst(name, moved);
}

const tracked_note* worst_of(const tracking_moment& moment) {
    if (moment.notes.empty()) return nullptr;
    return &*std::ranges::max_element(
        moment.notes, {}, [](const tracked_note& n) { return std::abs(n.error_cents); });
}

std::string constants_in_words(const pitch_constants& c) {
    return fmt::format("offset {:.9g} V, gain {:.9g} V for each code", c.offset_volts,
                       c.gain_volts_per_code);
}

std::string best_in_words(const best_constants& best, double k) {
    auto text = fmt::format(
        "The best constants are {} ± {} times the gain in force, and {} more",
        show(best.change.gain, dimension::ratio, 7), show(k * best.u_gain, dimension::ratio, 1),
        show(best.change.offset_volts, k * best.u_offset_volts, dimension::volts));
    if (best.constants) text += ": " + constants_in_words(*best.constants);
    return text + ".";
}

std::string table_in_words(const calibration_story& s, double k) {
    std::vector<std::string> all;
    for (std::size_t i = 0; i < s.table->add_volts.size(); ++i)
        all.push_back(fmt::format(
            "{} at {}", show(s.table->add_volts[i], k * s.table->u_volts[i], dimension::volts),
            show(s.table_at_volts[i], dimension::volts)));
    return fmt::format("The best table adds {}; it would leave {}.", listed(all),
                       show(s.table->worst.cents, k * s.table->worst.u_cents, dimension::cents));
}

/// What a reader wants to know beside the verdict.
std::vector<std::string> notes_of(const calibration_story& s) {
    std::vector<std::string> notes;
    const double k = s.coverage_factor;
    if (const auto* worst = worst_of(s.before))
        notes.push_back(fmt::format("Before, the worst note was off by {} at {}.",
                                    in_cents(worst->error_cents),
                                    show(worst->at_volts, dimension::volts)));
    if (s.before.told)
        notes.push_back("Constants before: " + constants_in_words(*s.before.told) + ".");
    if (s.after.told)
        notes.push_back("Constants after: " + constants_in_words(*s.after.told) + ".");
    const double wanted = most_allowed(s.error);
    if (s.best) {
        notes.push_back(best_in_words(*s.best, k));
        notes.push_back(in_words(s.best->left, wanted, k));
    }
    if (s.table) notes.push_back(table_in_words(s, k));
    if (const auto* worst = s.rewritten ? worst_of(*s.rewritten) : nullptr)
        notes.push_back(
            fmt::format("With the best constants written, the worst note is off by {} at "
                        "{}.",
                        in_cents(worst->error_cents), show(worst->at_volts, dimension::volts)));
    if (s.rewritten && s.rewritten->notes.empty())
        notes.push_back("The best constants were not written: " + s.rewritten->problem);
    return notes;
}

std::vector<std::string> notes_on_procedure(const calibration_story& s) {
    const auto& p = s.procedure;
    auto notes = p.notes;
    for (const auto& point : p.points)
        if (point.sensed)
            notes.push_back(fmt::format("At {} the bench saw {} ± {} at jack 'pitch'.",
                                        show(point.asked.value(), dimension::volts),
                                        show(point.sensed->mean.value(), dimension::volts, 5),
                                        show(2.0 * point.sensed->u.value(), dimension::volts, 2)));
    const bool sensed = std::ranges::any_of(
        p.points, [](const calibrated_point& point) { return point.sensed.has_value(); });
    if (!sensed && !p.points.empty())
        notes.emplace_back(
            "No input of the bench is wired to jack 'pitch', so a voltage that the jack "
            "loads, or that moves, would not have been noticed by itself.");
    if (p.is_out && !*p.is_out)
        notes.emplace_back(
            "The module still says that it is being calibrated: switch it off and on.");
    return notes;
}

series points_of(const calibration_story& s, const tracking_moment& moment, std::string name) {
    series out{.name = std::move(name), .drawn = series::look::points, .x = {}, .y = {}, .u = {}};
    for (const auto& n : moment.notes) {
        out.x.push_back(n.at_volts);
        out.y.push_back(n.error_cents);
        out.u.push_back(std::hypot(n.u_cents, s.u_common_cents));
    }
    return out;
}

plot plot_of(const calibration_story& s, std::string title, std::vector<series> curves) {
    return {.title = std::move(title),
            .x_label = "pitch voltage / V",
            .y_label = "error / cent",
            .curves = std::move(curves),
            .bands = {{s.error.text, s.error.lower, s.error.upper}},
            .note = "Each point is one note; bars are k standard uncertainties."};
}

std::vector<plot> plots_of(const calibration_story& s) {
    std::vector<plot> all;
    if (s.before.notes.empty()) return all;
    std::vector<series> both{points_of(s, s.before, "before")};
    if (!s.after.notes.empty()) both.push_back(points_of(s, s.after, "after"));
    all.push_back(plot_of(s, "Pitch before and after calibration", std::move(both)));
    if (s.after.notes.empty()) return all;
    std::vector<series> later{points_of(s, s.after, "after")};
    for (const auto& moment : s.survived)
        if (!moment.notes.empty())
            later.push_back(points_of(s, moment, "after the " + moment.name));
    if (s.rewritten && !s.rewritten->notes.empty())
        later.push_back(points_of(s, *s.rewritten, s.rewritten->name));
    all.push_back(plot_of(s, "Pitch after calibration, and what it survived", std::move(later)));
    return all;
}

}  // namespace

check_result as_check_result(const calibration_story& s, const module_expectations& m,
                             const bench& b, const setting_choice& choice) {
    const auto wanted = demands_of(*m.calibration, choice);
    const check_request request{.module = m, .desk = b, .wanted = wanted, .choice = choice};
    findings out{request};
    judge_procedure(out, s);
    judge_error(out, s);
    for (const auto& what : m.calibration->survives) judge_survival(out, s, what.name);
    judge_constants(out, s);
    check_result result;
    result.check = wanted.name;
    result.reads = "pitch before and after the module's own calibration, and what it survives";
    result.choice = choice;
    result.findings = std::move(out).take();
    for (auto& f : result.findings) {
        if (f.name == "procedure") f.notes = notes_on_procedure(s);
        if (f.name == "error") f.notes = notes_of(s);
    }
    result.plots = plots_of(s);
    if (result.outcome() == verdict::fail) result.likeliest = cause_of(s);
    return result;
}

}  // namespace cvrig
