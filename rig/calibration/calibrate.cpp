#include "rig/calibration/calibrate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <utility>

#include "rig/calibration/number_in_reply.hpp"
#include "rig/calibration/told_constants.hpp"
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
            if (!is_stopped()) s.survived.push_back(survive(what));
        give_back();
        if (p_.write_best && !is_stopped()) rewrite();
        return std::move(out_);
    }

private:
    [[nodiscard]] bool is_stopped() {
        out_.stopped = out_.stopped || p_.stop.stop_requested();
        return out_.stopped;
    }

    tracking_moment measure(const std::string& name) {
        tracking_moment moment{
            .name = name, .notes = {}, .told = {}, .told_table = {}, .problem = {}};
        p_.say(fmt::format("measuring the tracking, {}", name));
        moment.told = told();
        moment.told_table = told_table();
        run_watch watch;
        watch.stop = p_.stop;
        auto played = run(p_.stair, p_.session.to_module(), p_.module, p_.desk, watch);
        add(played);
        const auto tracking = std::ranges::find(played.checks, "tracking", &check_result::check);
        if (tracking != played.checks.end()) {
            const auto record = record_of(*tracking, {});
            moment.notes = record.notes;
            if (!record.notes.empty()) out_.story.u_common_cents = record.u_common_cents;
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

    [[nodiscard]] const table_rules* table_of_module() const {
        const auto& c = rules_.constants;
        return c && c->table && c->table->read && p_.acts.talks() ? &*c->table : nullptr;
    }

    [[nodiscard]] std::vector<double> told_table() const {
        const auto* table = table_of_module();
        std::vector<double> all;
        for (std::size_t i = 0; table != nullptr && i < table->at.size(); ++i) {
            const auto reply = p_.acts.ask(*table->read, {{"number", std::to_string(i + 1)}});
            const auto told = reply.ok && !reply.captures.empty()
                                  ? number_in_reply(reply.captures.front())
                                  : std::nullopt;
            if (!told) return {};
            all.push_back(*told);
        }
        return all;
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
        // Some modules are calibrated, or left, by switching them on with a button held.
        forget_restarts();
        out_.stopped = procedure.how == procedure_result::end::stopped || is_stopped();
    }

    /// What restarted was meant to; what it was set to before is unknown.
    void forget_restarts() {
        if (auto* talks = p_.session.talks(); talks != nullptr) talks->mark();
        p_.session.forget_settings();
    }

    /// What a restart or a reset of the settings leaves of them, nobody knows.
    tracking_moment survive(const constants_trial& what) {
        p_.say(what.name);
        auto* talks = p_.session.talks();
        const bool may_restart =
            talks != nullptr && (what.name != "settings reset" || !p_.acts.is_by_line(what.act));
        if (may_restart) talks->expect_reset();
        const auto result = p_.acts.perform(what.act, {});
        // A hand may take longer than a restart that was announced before it may.
        if (may_restart) talks->expect_reset();
        forget_restarts();
        if (result.became == act_result::what::aborted) out_.stopped = true;
        if (!result.is_done()) return unmeasured(what.name, result.reason);
        return measure(what.name);
    }

    [[nodiscard]] static tracking_moment unmeasured(const std::string& name,
                                                    const std::string& why) {
        return {.name = name, .notes = {}, .told = {}, .told_table = {}, .problem = why};
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
    std::string write_line(const std::string& line, const std::map<std::string, std::string>& names,
                           const place& where) {
        calibration_act act;
        act.console = filled_line(line, names);
        act.where = where;
        return p_.acts.perform(act, {}).reason;
    }

    std::string write(const pitch_constants& constants) {
        return write_line(*rules_.constants->write,
                          {{"offset", fmt::format("{:.12g}", constants.offset_volts)},
                           {"gain", fmt::format("{:.12g}", constants.gain_volts_per_code)}},
                          rules_.constants->where);
    }

    std::string write(const table_rules& table, const std::vector<double>& all_volts) {
        for (std::size_t i = 0; i < all_volts.size(); ++i) {
            auto problem = write_line(*table.write,
                                      {{"number", std::to_string(i + 1)},
                                       {"volts", fmt::format("{:.12g}", all_volts[i])}},
                                      table.where);
            if (!problem.empty()) return problem;
        }
        return {};
    }

    [[nodiscard]] bool can_write() const {
        return rules_.constants && rules_.constants->write && p_.acts.talks();
    }

    [[nodiscard]] bool can_write_table() const {
        const auto* table = table_of_module();
        return table != nullptr && table->write &&
               out_.story.after.told_table.size() == table->at.size();
    }

    /// As right after the procedure: constants and table.
    std::string write_as_after() {
        const auto& after = out_.story.after;
        if (!after.told || !can_write()) return "The module does not take its constants by a line.";
        auto problem = write(*after.told);
        if (problem.empty() && can_write_table())
            problem = write(*table_of_module(), after.told_table);
        return problem;
    }

    /// A build that loses its constants shall not leave a unit out of tune. What was lost before the
    /// last step may not have been looked at since.
    void give_back() {
        auto& s = out_.story;
        const bool is_lost = std::ranges::any_of(s.survived, [&](const tracking_moment& later) {
            return tells_the_same(s, s.after, later) == false;
        });
        if (!is_lost) return;
        const auto problem = write_as_after();
        s.procedure.notes.push_back(
            problem.empty()
                ? "The constants of the procedure were lost on the way and have been written again."
                : "The constants of the procedure were lost on the way, and the unit is without "
                  "them: " +
                      problem);
    }

    /// A table can do all that gain and offset can, and more. What is found is added to what the
    /// procedure left; if it cannot all be written, that is written again.
    void rewrite() {
        auto& s = out_.story;
        const std::string name = "with the best constants";
        std::string problem;
        if (s.table && can_write_table()) {
            p_.say("writing the best table");
            auto all_volts = s.after.told_table;
            for (std::size_t i = 0; i < all_volts.size(); ++i)
                all_volts[i] += s.table->add_volts[i];
            problem = write(*table_of_module(), all_volts);
        } else if (s.best && s.best->constants && can_write()) {
            p_.say("writing the best constants");
            problem = write(*s.best->constants);
        } else {
            s.rewritten = unmeasured(name, "The module does not take constants by a line.");
            return;
        }
        if (problem.empty()) {
            s.rewritten = measure(name);
            return;
        }
        s.rewritten = unmeasured(name, problem);
        static_cast<void>(write_as_after());
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
