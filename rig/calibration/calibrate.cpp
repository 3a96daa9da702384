#include "rig/calibration/calibrate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <utility>

#include "rig/calibration/number_in_reply.hpp"
#include "rig/console/filled_line.hpp"

namespace cvrig {

namespace {

class calibrating {
public:
    explicit calibrating(const calibration_parts& parts)
        : p_{parts}, rules_{*parts.module.calibration} {
        auto& s = out_.story;
        s.volts_per_octave = p_.module.pitch.per_octave.value();
        s.coverage_factor = p_.module.coverage_factor;
        s.error = rules_.error;
        s.kept = rules_.kept;
    }

    calibration_run go() && {
        auto& s = out_.story;
        s.before = measure("before");
        if (out_.stopped || s.before.notes.empty()) return std::move(out_);
        walk();
        if (!s.procedure.is_complete() || out_.stopped) return std::move(out_);
        s.after = measure("after");
        if (s.after.notes.empty()) return std::move(out_);
        const auto best =
            best_constants_of(s.after.notes, s.volts_per_octave, s.u_common_cents, s.after.told);
        if (best) s.best = *best;
        find_table();
        for (const auto& what : rules_.survives)
            if (!out_.stopped) s.survived.push_back(survive(what));
        if (p_.write_best && !out_.stopped) rewrite();
        give_back();
        return std::move(out_);
    }

private:
    tracking_moment measure(const std::string& name) {
        tracking_moment moment{.name = name, .notes = {}, .told = {}, .problem = {}};
        p_.say(fmt::format("measuring the tracking, {}", name));
        moment.told = told();
        run_watch watch;
        watch.stop = p_.stop;
        auto played = run(p_.stair, p_.session.to_module(), p_.module, p_.desk, watch);
        add(played);
        const auto tracking = std::ranges::find(played.checks, "tracking", &check_result::check);
        if (tracking != played.checks.end()) {
            const auto record = record_of(*tracking, {});
            moment.notes = record.notes;
            out_.story.u_common_cents = record.u_common_cents;
            if (moment.notes.empty() && !tracking->findings.empty())
                moment.problem = tracking->findings.front().reason;
        }
        if (moment.notes.empty() && moment.problem.empty())
            moment.problem = "The tracking could not be measured.";
        return moment;
    }

    void add(run_outcome& played) {
        const auto first = static_cast<int>(out_.takes.size());
        for (auto& take : played.takes) {
            take.number += first;
            out_.takes.push_back(std::move(take));
        }
        out_.sound = out_.sound + played.sound;
        out_.analysis_cpu = out_.analysis_cpu + played.analysis_cpu;
        out_.stopped = out_.stopped || played.stopped || p_.stop.stop_requested();
    }

    /// A line that is late, such as what was asked just before a restart, may look like the answer.
    [[nodiscard]] std::optional<pitch_constants> told() const {
        constexpr int most_tries = 3;
        if (!rules_.constants || !rules_.constants->read || !p_.acts.talks()) return std::nullopt;
        for (int i = 0; i < most_tries; ++i) {
            const auto reply = p_.acts.ask(*rules_.constants->read, {});
            if (!reply.ok || reply.captures.size() < 2) return std::nullopt;
            const auto offset = number_in_reply(reply.captures[0]);
            const auto gain = number_in_reply(reply.captures[1]);
            if (offset && gain && *gain != 0.0) return pitch_constants{*offset, *gain};
        }
        return std::nullopt;
    }

    void walk() {
        auto& procedure = out_.story.procedure;
        auto* source = p_.session.voltages();
        if (source == nullptr) {
            procedure.how = procedure_result::end::bench;
            procedure.stage = "beginning";
            procedure.reason =
                "This bench cannot hold a voltage between takes: a program needs 'hold' beside "
                "'program' in the bench file, and a console.";
            return;
        }
        p_.say("walking the module through its calibration");
        procedure = walk_procedure(p_.module, p_.desk, p_.acts, *source, p_.stop);
        out_.stopped = out_.stopped || p_.stop.stop_requested();
    }

    /// What a restart or a reset of the settings leaves of them, nobody knows.
    tracking_moment survive(const constants_trial& what) {
        p_.say(what.name);
        auto* talks = p_.session.talks();
        if (talks != nullptr && what.name != "settings reset") talks->expect_reset();
        const auto result = p_.acts.perform(what.act, {});
        p_.session.forget_settings();
        if (!result.is_done())
            return {.name = what.name, .notes = {}, .told = {}, .problem = result.reason};
        return measure(what.name);
    }

    /// One sentence if it did not work.
    std::string write(const pitch_constants& constants) {
        const auto line =
            filled_line(*rules_.constants->write,
                        {{"offset", fmt::format("{:.12g}", constants.offset_volts)},
                         {"gain", fmt::format("{:.12g}", constants.gain_volts_per_code)}});
        calibration_act act;
        act.console = line;
        act.where = rules_.constants->where;
        return p_.acts.perform(act, {}).reason;
    }

    void find_table() {
        auto& s = out_.story;
        if (!rules_.constants || !rules_.constants->table) return;
        for (const volts v : rules_.constants->table->at) s.table_at_volts.push_back(v.value());
        const auto table =
            best_table_of(s.after.notes, s.table_at_volts, s.volts_per_octave, s.u_common_cents);
        if (table) s.table = *table;
    }

    /// One sentence if it did not work.
    std::string write_table(const table_rules& rules, const best_table& table) {
        for (std::size_t i = 0; i < table.add_volts.size(); ++i) {
            std::map<std::string, std::string> names{{"number", std::to_string(i + 1)}};
            const auto reply = p_.acts.ask(*rules.read, names);
            const auto now = reply.ok && !reply.captures.empty()
                                 ? number_in_reply(reply.captures.front())
                                 : std::nullopt;
            if (!now) return "The module did not tell its table: " + reply.problem;
            names["volts"] = fmt::format("{:.12g}", *now + table.add_volts[i]);
            calibration_act act;
            act.console = *rules.write;
            act.where = rules.where;
            if (auto done = p_.acts.perform(act, names); !done.is_done()) return done.reason;
        }
        return {};
    }

    [[nodiscard]] bool can_write_table() const {
        const auto& c = rules_.constants;
        return c && c->table && c->table->write && out_.story.table && p_.acts.talks();
    }

    [[nodiscard]] bool can_write() const {
        return rules_.constants && rules_.constants->write && p_.acts.talks();
    }

    /// A table can do all that gain and offset can, and more.
    void rewrite() {
        auto& s = out_.story;
        std::string problem;
        if (can_write_table()) {
            p_.say("writing the best table");
            problem = write_table(*rules_.constants->table, *s.table);
        } else if (s.best && s.best->constants && can_write()) {
            p_.say("writing the best constants");
            problem = write(*s.best->constants);
        } else {
            return;
        }
        const std::string name = "with the best constants";
        if (problem.empty())
            s.rewritten = measure(name);
        else
            s.rewritten =
                tracking_moment{.name = name, .notes = {}, .told = {}, .problem = problem};
    }

    /// A build that loses its constants shall not leave a unit out of tune.
    void give_back() {
        auto& s = out_.story;
        if (s.survived.empty() || s.rewritten || !s.after.told || !can_write()) return;
        const auto& last = s.survived.back();
        if (!last.told || *last.told == *s.after.told) return;
        if (write(*s.after.told).empty())
            s.procedure.notes.emplace_back(
                "The constants of the procedure were lost on the way and have been written again.");
    }

    const calibration_parts& p_;
    const calibration_rules& rules_;
    calibration_run out_;
};

}  // namespace

calibration_run calibrate(const calibration_parts& parts) {
    return calibrating{parts}.go();
}

}  // namespace cvrig
