#include "rig/calibration/procedure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "rig/calibration/allowed.hpp"
#include "rig/calibration/number_in_reply.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

using names = std::map<std::string, std::string>;
using end = procedure_result::end;
using act_end = act_result::what;

/// Unknown where the module cannot be asked, or does not answer.
std::optional<bool> is_over(const calibration_rules& rules, const actor& acts) {
    if (!rules.is_over || !acts.talks()) return std::nullopt;
    const auto reply = acts.ask(*rules.is_over, {});
    if (!reply.ok && reply.line.empty()) return std::nullopt;
    return reply.ok;
}

end end_of(act_end became) {
    if (became == act_end::refused) return end::refused;
    return became == act_end::aborted ? end::stopped : end::bench;
}

class walk {
public:
    walk(const module_expectations& m, const bench& b, actor& acts, voltage_source& source,
         const std::stop_token& stop)
        : m_{m}, rules_{*m.calibration}, b_{b}, acts_{acts}, source_{source}, stop_{stop} {}
    ~walk() { leave(); }
    walk(const walk&) = delete;
    walk& operator=(const walk&) = delete;

    procedure_result go() && {
        if (goes_on("entering") && enter() && take_all() && store()) end_well();
        leave();
        return std::move(out_);
    }

private:
    bool fail(end how, std::string stage, std::string reason) {
        out_.how = how;
        out_.stage = std::move(stage);
        out_.reason = std::move(reason);
        return false;
    }

    bool goes_on(const std::string& stage) {
        if (!stop_.stop_requested()) return true;
        return fail(end::stopped, stage, "The calibration was stopped before it was complete.");
    }

    bool done(const act_result& result, const std::string& stage) {
        return result.is_done() || fail(end_of(result.became), stage, result.reason);
    }

    bool enter() {
        if (!rules_.enter) return true;
        const auto result = acts_.perform(*rules_.enter, {});
        // What nobody was there to do has not been done, and must not be undone.
        out_.was_begun = result.became != act_end::needs_hand;
        return done(result, "entering") && goes_on("entering");
    }

    bool take_all() {
        out_.is_seen = true;
        for (std::size_t i = 0; i < rules_.voltages.size(); ++i)
            if (!take(i)) return false;
        return true;
    }

    [[nodiscard]] std::string stage_of(std::size_t index) const {
        return fmt::format("voltage {} of {}, {}", index + 1, rules_.voltages.size(),
                           show(rules_.voltages[index].value(), dimension::volts));
    }

    bool take(std::size_t index) {
        const auto stage = stage_of(index);
        const bool is_last = index + 1 == rules_.voltages.size();
        const std::map<std::string, volts> held{{"pitch", rules_.voltages[index]}};
        if (auto problem = source_.hold(held); !problem.empty())
            return fail(end::bench, stage, problem);
        if (source_.is_real()) acts_.wait(rules_.settle);
        if (!goes_on(stage)) return false;
        out_.points.push_back({.asked = rules_.voltages[index], .sensed = {}, .seen = {}});
        if (!look_at_voltage(out_.points.back(), stage)) return false;
        out_.was_begun = true;
        out_.may_have_stored = is_last && !rules_.store;
        if (!confirm(index, stage, held)) return false;
        out_.points.back().seen = seen(index);
        // Behind the last one there is nothing left to stop but storing.
        return is_last || goes_on(stage);
    }

    /// A line may get lost, and can be sent again; a button must not be pressed twice.
    bool confirm(std::size_t index, const std::string& stage,
                 const std::map<std::string, volts>& held) {
        const auto& act = rules_.confirm;
        const auto told = names_of(index);
        auto result = acts_.perform(act, told, held);
        if (result.became == act_end::refused && act.then && acts_.talks()) {
            acts_.wait(rules_.settle);  // it may be slow to say so
            const auto later = acts_.look(act, told);
            if (later.is_done())
                result = later;
            else if (acts_.is_by_line(act))
                result = acts_.perform(act, told, held);
        }
        out_.is_seen = out_.is_seen && result.is_seen;
        if (result.became == act_end::refused) out_.stuck_at = index + 1;
        return done(result, stage);
    }

    bool look_at_voltage(calibrated_point& point, const std::string& stage) {
        if (!source_.has_sense("pitch")) return true;
        constexpr int most_tries = 2;  // a busy computer may spoil one record
        for (int i = 0; i < most_tries && !point.sensed; ++i) point.sensed = source_.sense("pitch");
        if (!goes_on(stage)) return false;
        if (!point.sensed)
            return fail(end::bench, stage,
                        "The input that is wired to jack 'pitch' could not be read without a gap.");
        return is_as_asked(point, stage) && stands_still(point, stage);
    }

    bool is_as_asked(const calibrated_point& point, const std::string& stage) {
        const auto& at = *point.sensed;
        const double off = std::abs((at.mean - point.asked).value());
        const auto output = std::ranges::find(b_.outputs, "pitch", &bench_output::jack);
        const double U = m_.coverage_factor * std::hypot(at.u.value(), output->u.value());
        if (off <= U) return true;
        return fail(
            end::bench, stage,
            fmt::format("The bench sees {} at jack 'pitch' where {} should stand, {} more than "
                        "its uncertainty: the jack loads the output, or its trim is wrong. "
                        "Trim the bench with the module plugged in.",
                        show(at.mean.value(), dimension::volts, 5),
                        show(point.asked.value(), dimension::volts),
                        show(off - U, dimension::volts, 2)));
    }

    bool stands_still(const calibrated_point& point, const std::string& stage) {
        const double moved_volts = point.sensed->moved.value();
        const double moved_cents = std::abs(moved_volts / m_.pitch.per_octave.value()) * 1200.0;
        if (moved_cents <= 0.25 * most_allowed(rules_.error)) return true;
        return fail(
            end::bench, stage,
            fmt::format("The voltage at jack 'pitch' does not stand still: it moved by {} in "
                        "0.2 s, which is {}.",
                        show(moved_volts, dimension::volts, 2),
                        show(moved_cents, dimension::cents, 2)));
    }

    [[nodiscard]] std::optional<double> seen(std::size_t index) {
        if (!rules_.seen || !acts_.talks()) return std::nullopt;
        const auto reply = acts_.ask(*rules_.seen, names_of(index));
        if (!reply.ok || reply.captures.empty()) return std::nullopt;
        return number_in_reply(reply.captures.front());
    }

    [[nodiscard]] names names_of(std::size_t index) const {
        return {{"number", std::to_string(index + 1)},
                {"volts", fmt::format("{:.9g}", rules_.voltages[index].value())}};
    }

    bool store() {
        if (!rules_.store) return true;
        out_.may_have_stored = true;
        return done(acts_.perform(*rules_.store, {}), "storing");
    }

    void end_well() {
        out_.is_out = is_over(rules_, acts_);
        if (out_.is_out == false) {
            static_cast<void>(fail(end::refused, "leaving",
                                   "The module still says that it is being calibrated after the "
                                   "last step of its procedure."));
        } else if (!out_.is_out && rules_.is_over && acts_.talks()) {
            static_cast<void>(
                fail(end::bench, "leaving",
                     "The module does not answer whether it has left its calibration."));
        } else {
            is_left_ = true;
        }
    }

    /// Also out of an exception, so nothing may come out of it; and whatever fails, the outputs rest.
    void leave() noexcept {
        if (std::exchange(is_tidy_, true)) return;
        try {
            if (out_.was_begun && !is_left_) abandon();
        } catch (const std::exception&) {
            out_.is_out = std::nullopt;
        }
        try {
            if (auto problem = source_.hold({}); !problem.empty())
                out_.notes.push_back("The jacks may still hold their voltages: " + problem);
        } catch (const std::exception& problem) {
            out_.notes.emplace_back("The jacks may still hold their voltages.");
        }
    }

    void abandon() {
        if (rules_.abandon && acts_.can(*rules_.abandon))
            static_cast<void>(acts_.perform(*rules_.abandon, {}));
        out_.is_out = is_over(rules_, acts_);
        if (!out_.is_out)
            out_.notes.emplace_back("See whether the module has left its calibration.");
    }

    const module_expectations& m_;
    const calibration_rules& rules_;
    const bench& b_;
    actor& acts_;
    voltage_source& source_;
    const std::stop_token& stop_;
    procedure_result out_;
    bool is_left_{false};
    bool is_tidy_{false};
};

}  // namespace

std::string leave_what_was_begun(const module_expectations& m, actor& acts) {
    const auto& rules = *m.calibration;
    if (is_over(rules, acts).value_or(true)) return {};
    std::string reason;
    if (rules.abandon) reason = acts.perform(*rules.abandon, {}).reason;
    if (is_over(rules, acts).value_or(false))
        return "The module was still being calibrated; it was told to leave that first.";
    throw user_error{
        fmt::format("The module is still being calibrated, and did not leave that when it "
                    "was told to; switch it off and on.{}",
                    reason.empty() ? "" : fmt::format(" ({})", reason))};
}

std::string what_a_stop_left(const procedure_result& p, const calibration_rules& rules) {
    std::string text = "The calibration was stopped before it was complete";
    if (p.is_complete() && p.may_have_stored)
        return text + ", after the new constants had been stored; no report was written.";
    if (p.may_have_stored)
        return text + "; the module may have stored new constants: calibrate it again.";
    if (!p.was_begun) return text + "; nothing had been begun.";
    if (p.is_out == true)
        return text + "; the module has left its calibration and keeps its constants.";
    text += p.is_out ? ", and the module still says that it is being calibrated"
                     : "; see whether the module has left its calibration";
    if (rules.abandon && rules.abandon->operator_instruction)
        return fmt::format("{}. To leave it: {}.", text, *rules.abandon->operator_instruction);
    return text + "; else switch it off and on.";
}

procedure_result walk_procedure(const module_expectations& m, const bench& b, actor& acts,
                                voltage_source& source, const std::stop_token& stop) {
    return walk{m, b, acts, source, stop}.go();
}

}  // namespace cvrig
