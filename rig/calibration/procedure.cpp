#include "rig/calibration/procedure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "rig/calibration/number_in_reply.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

using names = std::map<std::string, std::string>;
using end = procedure_result::end;

class walk {
public:
    walk(const module_expectations& m, const bench& b, actor& acts, voltage_source& source,
         const std::stop_token& stop)
        : m_{m}, rules_{*m.calibration}, b_{b}, acts_{acts}, source_{source}, stop_{stop} {}
    ~walk() { leave(); }
    walk(const walk&) = delete;
    walk& operator=(const walk&) = delete;

    procedure_result go() && {
        if (leave_what_was_begun() && enter() && take_all() && store()) end_well();
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
        if (result.is_done()) return true;
        const bool by_module = result.became == act_result::what::refused;
        return fail(by_module ? end::refused : end::bench, stage, result.reason);
    }

    [[nodiscard]] std::optional<bool> is_over() {
        if (!rules_.is_over || !acts_.talks()) return std::nullopt;
        const auto reply = acts_.ask(*rules_.is_over, {});
        if (!reply.ok && reply.line.empty()) return std::nullopt;
        return reply.ok;
    }

    /// Somebody may have left it in the middle.
    bool leave_what_was_begun() {
        const auto over = is_over();
        if (!over || *over || !rules_.abandon) return goes_on("entering");
        static_cast<void>(acts_.perform(*rules_.abandon, {}));
        out_.notes.emplace_back(
            "The module was still being calibrated; it was told to leave that first.");
        return goes_on("entering");
    }

    bool enter() {
        begun_ = true;
        if (!rules_.enter) return goes_on("entering");
        return done(acts_.perform(*rules_.enter, {}), "entering") && goes_on("entering");
    }

    bool take_all() {
        for (std::size_t i = 0; i < rules_.voltages.size(); ++i)
            if (!take(i)) return false;
        return true;
    }

    bool take(std::size_t index) {
        const auto stage = fmt::format("voltage {} of {}, {}", index + 1, rules_.voltages.size(),
                                       show(rules_.voltages[index].value(), dimension::volts));
        const std::map<std::string, volts> held{{"pitch", rules_.voltages[index]}};
        if (auto problem = source_.hold(held); !problem.empty())
            return fail(end::bench, stage, problem);
        if (source_.is_real()) acts_.wait(rules_.settle);
        if (!goes_on(stage)) return false;
        calibrated_point point{.asked = rules_.voltages[index], .sensed = {}, .seen = {}};
        point.sensed = source_.sense("pitch");
        const bool sound = is_sound(point, stage);
        out_.points.push_back(point);
        if (!sound || !confirm(index, stage, held)) return false;
        out_.points.back().seen = seen(index);
        return goes_on(stage);
    }

    /// One line may get lost; a module that tells how far it is can be asked again.
    bool confirm(std::size_t index, const std::string& stage,
                 const std::map<std::string, volts>& held) {
        const int tries = rules_.confirm.then ? 2 : 1;
        act_result result;
        for (int i = 0; i < tries; ++i) {
            result = acts_.perform(rules_.confirm, names_of(index), held);
            if (result.is_done()) return true;
        }
        if (result.became == act_result::what::refused) out_.stuck_at = index + 1;
        return done(result, stage);
    }

    bool is_sound(const calibrated_point& point, const std::string& stage) {
        if (!point.sensed) return true;
        const auto& at = *point.sensed;
        const double off = (at.mean - point.asked).value();
        const auto output = std::ranges::find(b_.outputs, "pitch", &bench_output::jack);
        const double u = std::hypot(at.u.value(), output->u.value());
        if (std::abs(off) > m_.coverage_factor * u)
            return fail(
                end::bench, stage,
                fmt::format("The bench sees {} at jack 'pitch' where {} should stand, {} "
                            "more than its uncertainty: the jack loads the output, or its "
                            "trim is wrong. Trim the bench with the module plugged in.",
                            show(at.mean.value(), dimension::volts, 5),
                            show(point.asked.value(), dimension::volts),
                            show(std::abs(off) - m_.coverage_factor * u, dimension::volts, 2)));
        const double moved_cents =
            std::abs(at.moved.value() / m_.pitch.per_octave.value()) * 1200.0;
        const double most = 0.25 * std::max(std::abs(rules_.error.upper.value_or(0.0)),
                                            std::abs(rules_.error.lower.value_or(0.0)));
        if (moved_cents <= most) return true;
        return fail(
            end::bench, stage,
            fmt::format("The voltage at jack 'pitch' does not stand still: it moved by {} in "
                        "0.2 s, which is {}.",
                        show(at.moved.value(), dimension::volts, 2),
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
        return done(acts_.perform(*rules_.store, {}), "storing");
    }

    void end_well() {
        out_.is_out = is_over();
        if (out_.is_out.value_or(true)) {
            begun_ = false;
            return;
        }
        static_cast<void>(fail(end::refused, "leaving",
                               "The module still says that it is being calibrated after the last "
                               "step of its procedure."));
    }

    void leave() noexcept {
        if (left_) return;
        left_ = true;
        try {
            if (begun_ && rules_.abandon && acts_.can(*rules_.abandon))
                static_cast<void>(acts_.perform(*rules_.abandon, {}));
            if (begun_) out_.is_out = is_over();
            static_cast<void>(source_.hold({}));
        } catch (const std::exception&) {
            out_.is_out = std::nullopt;
        }
    }

    const module_expectations& m_;
    const calibration_rules& rules_;
    const bench& b_;
    actor& acts_;
    voltage_source& source_;
    const std::stop_token& stop_;
    procedure_result out_;
    bool begun_{false};
    bool left_{false};
};

}  // namespace

std::string what_a_stop_left(const procedure_result& p) {
    const std::string begin = "The calibration was stopped before it was complete";
    if (p.is_complete() && !p.points.empty())
        return begin + ", after the new constants had been stored; no report was written.";
    if (p.is_out && !*p.is_out)
        return begin +
               ", and the module still says that it is being calibrated; switch it off and on.";
    if (p.is_out) return begin + "; the module has left its calibration and keeps its constants.";
    return begin + "; see whether the module has left its calibration.";
}

procedure_result walk_procedure(const module_expectations& m, const bench& b, actor& acts,
                                voltage_source& source, const std::stop_token& stop) {
    return walk{m, b, acts, source, stop}.go();
}

}  // namespace cvrig
