#include "rig/checks/pattern_judgement.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "rig/checks/listening.hpp"
#include "rig/checks/pattern_slides.hpp"
#include "rig/checks/pattern_strikes.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

using kind = pattern_step::kind;

// A slide that jumps has nothing left; one that has less than this much is none, whatever the limit
// in cents, which suits the widest interval.
constexpr double least_slide_left = 0.4;
constexpr double some_cents = 40.0;

class step_judge {
public:
    step_judge(const check_request& request, const pattern_part& part,
               const pattern_readings& heard, const step_demands& demanded)
        : request_{request}, part_{part}, heard_{heard}, demanded_{demanded} {}

    judged_pattern run() {
        judged_pattern out;
        if (!heard_.sounds) {
            out.doubt = "Most steps of the pattern give no more than silence does.";
            return out;
        }
        course_ = common_slide_course(part_, heard_.steps, request_.module.pitch);
        out.slide_excess = course_.excess;
        const auto plain = plain_steps(part_, heard_);
        if (plain) accented_ = accented_steps(part_, heard_, *plain, least_rise());
        for (std::size_t i = 0; i < part_.steps.size(); ++i) {
            judged_step s;
            if (part_.steps[i].what == kind::rest)
                judge_rest(s, i);
            else
                judge_note(s, i, plain ? &*plain : nullptr);
            out.steps.push_back(std::move(s));
        }
        return out;
    }

private:
    [[nodiscard]] double least_rise() const {
        return demanded_.accent && demanded_.accent->lower ? *demanded_.accent->lower : 2.0;
    }

    void judge_rest(judged_step& s, std::size_t i) const {
        if (heard_.steps[i].rms_volts > 3.0 * heard_.loudest_silence.value())
            s.wrong.emplace_back("sounds, though it is a rest");
    }

    void judge_note(judged_step& s, std::size_t i, const plain_reference* plain) const {
        if (heard_.steps[i].rms_volts < heard_.loudest_silence.value()) {
            s.wrong.emplace_back("nothing sounds");
            return;
        }
        judge_pitch(s, i);
        judge_slide(s, i);
        if (plain == nullptr) {
            s.open = true;
            return;
        }
        judge_strike(s, i, *plain);
        judge_accent(s, i, *plain);
    }

    [[nodiscard]] double interval_cents(std::size_t i) const {
        const auto& p = part_.steps[i];
        return request_.module.pitch.per_volt(p.before - p.pitch).value();
    }

    [[nodiscard]] double left_cents(std::size_t i) const {
        return cvrig::left_cents(part_.steps[i], heard_.steps[i], request_.module.pitch);
    }

    void judge_pitch(judged_step& s, std::size_t i) const {
        const bool slid = part_.steps[i].what == kind::slid;
        const auto& allowed = slid ? demanded_.slid_pitch : demanded_.pitch;
        if (!allowed) return;
        const auto& heard = heard_.steps[i];
        if (!heard.offset) {
            s.open = !heard.is_another_pitch;
            if (heard.is_another_pitch) s.wrong.emplace_back("another pitch, or one that moves");
            return;
        }
        double off = heard.offset->value();
        std::vector<analysis::contribution> budget{
            {"short note", heard.u_offset.value()},
            {"bench pitch voltage", bench_pitch_uncertainty(request_).value()},
            {"sample clock", clock_pitch_uncertainty(request_).value()}};
        if (slid) {
            off -= course_.excess * left_cents(i);
            budget.push_back({"course of the slide", course_.u_share * std::abs(left_cents(i))});
        }
        s.pitch = make_reading(off, dimension::cents, std::move(budget), name_of_step(part_, i));
        s.pitch->where = static_cast<double>(part_.first + i);
        const double k = std::max(pattern_surely, request_.module.coverage_factor);
        if (slid && jumps(i, off))
            s.slid = false;
        else if (judge(*s.pitch, *allowed, k) == verdict::fail)
            s.wrong.push_back(pitch_sentence(*s.pitch));
        else if (judge(*s.pitch, *allowed, request_.module.coverage_factor) != verdict::pass)
            s.open = true;
    }

    // What comes before the border must be what was expected there.
    [[nodiscard]] std::optional<bool> told_by_phase(std::size_t i) const {
        if (i == 0 || is_off_pitch(i - 1) ||
            heard_.steps[i - 1].rms_volts < heard_.loudest_silence.value())
            return std::nullopt;
        return slides_by_phase(heard_.steps[i]);
    }

    // Not of steps whose pitch nobody asks for.
    void judge_slide(judged_step& s, std::size_t i) const {
        const bool wanted = part_.steps[i].what == kind::slid;
        if (!wanted && part_.steps[i].what != kind::tied) return;
        if (!(wanted ? demanded_.slid_pitch : demanded_.pitch)) return;
        s.asked_slide = true;
        const auto by_phase = told_by_phase(i);
        if (by_phase && s.slid.value_or(true)) s.slid = by_phase;
        const bool by_pitch = heard_.steps[i].offset && is_wide(i);
        if (!s.slid && by_pitch) s.slid = wanted;
        if (!s.slid)
            s.open = true;
        else if (*s.slid != wanted)
            s.wrong.insert(s.wrong.begin(), slide_sentence(s, i, wanted));
    }

    // A jump over so much leaves the pitch of a slid step, a slide that of a tied one, out of limits.
    [[nodiscard]] bool is_wide(std::size_t i) const {
        return part_.steps[i].what == kind::slid ? std::abs(left_cents(i)) > some_cents
                                                 : std::abs(interval_cents(i)) > 700.0;
    }

    [[nodiscard]] std::string slide_sentence(const judged_step& s, std::size_t i,
                                             bool wanted) const {
        const std::string is =
            wanted ? "jumps instead of sliding" : "slides, though it is not slid";
        if (s.pitch && std::abs(s.pitch->value) > 1.0)
            return fmt::format("{}: {}", is, pitch_sentence(*s.pitch));
        return heard_.steps[i].slide ? fmt::format("{}: {:.0f} % of a slide", is,
                                                   100.0 * heard_.steps[i].slide->share)
                                     : is;
    }

    // Whether a slid step is nearer to its end than its slide can be by so much.
    [[nodiscard]] bool jumps(std::size_t i, double off_cents) const {
        const double left = left_cents(i);
        const double missing = left > 0.0 ? -off_cents : off_cents;
        return std::abs(left) > some_cents && missing - 2.0 * heard_.steps[i].u_offset.value() >
                                                  (1.0 - least_slide_left) * std::abs(left);
    }

    static std::string pitch_sentence(const reading& r) {
        return fmt::format("pitch {:.0f} cents {}", std::abs(r.value),
                           r.value < 0.0 ? "flat" : "sharp");
    }

    // Level and brightness are read under windows for the expected pitch.
    [[nodiscard]] bool is_off_pitch(std::size_t i) const {
        const auto& heard = heard_.steps[i];
        return heard.is_another_pitch || (heard.offset && std::abs(heard.offset->value()) > 100.0 &&
                                          part_.steps[i].what != kind::slid);
    }

    [[nodiscard]] std::optional<bool> declared_strike(std::size_t i) const {
        switch (part_.steps[i].what) {
            case kind::tied:
                return demanded_.tie_strikes;
            case kind::slid:
                return demanded_.slide_strikes;
            case kind::rest:
            case kind::struck:
                break;
        }
        return std::nullopt;
    }

    void judge_strike(judged_step& s, std::size_t i, const plain_reference& plain) const {
        const auto declared = declared_strike(i);
        if (!declared) return;
        s.asked_strike = true;
        if (is_off_pitch(i) || is_off_pitch(i - 1)) {
            s.open = true;
            return;
        }
        const auto odds = strike_odds(heard_, i, plain, accented_);
        if (!odds) {
            s.open = true;
            return;
        }
        if (odds->is_neither) {
            s.struck_right = false;
            s.wrong.push_back(fmt::format(
                "neither goes on nor starts again: its level is {:+.1f} dB off going on",
                odds->level_off_going_on_db));
            return;
        }
        const double for_declared =
            *declared ? odds->log_ratio_of_strike : -odds->log_ratio_of_strike;
        if (for_declared < std::log(most_false_alarms)) {
            s.struck_right = false;
            s.wrong.emplace_back(*declared ? "goes on, but starts again is declared"
                                           : "starts again, but goes on is declared");
        } else if (for_declared > 3.75) {  // ln (0.977 / 0.023)
            s.struck_right = true;
        } else {
            s.open = true;
        }
    }

    // Of a struck step; one that goes on keeps the accent of its strike.
    void judge_accent(judged_step& s, std::size_t i, const plain_reference& plain) const {
        if (!demanded_.accent) return;
        const auto& p = part_.steps[i];
        if (p.what != kind::struck && !declared_strike(i).value_or(false)) return;
        if (s.struck_right && !*s.struck_right) return;
        if (is_off_pitch(i)) return;
        const auto off = beside_plain(heard_.steps[i].early, plain);
        if (!off) {
            s.open = true;
            return;
        }
        const reading rise = [&] {
            auto r =
                make_reading(off->level_db, dimension::decibels,
                             {{"scatter of plain steps", plain.u_rise_db}}, name_of_step(part_, i));
            r.where = static_cast<double>(part_.first + i);
            return r;
        }();
        const double beyond = rise.value - least_rise();
        const bool sure = std::abs(beyond) > pattern_surely * rise.standard_uncertainty;
        if (!sure) s.open = true;
        if (p.accent) s.accent = rise;
        if (sure && p.accent && beyond < 0.0)
            s.wrong.push_back(
                fmt::format("not accented: {:+.1f} dB beside plain steps", rise.value));
        if (sure && !p.accent && beyond > 0.0)
            s.wrong.push_back(
                fmt::format("accented, but is plain: {:+.1f} dB beside plain steps", rise.value));
    }

    const check_request& request_;
    const pattern_part& part_;
    const pattern_readings& heard_;
    const step_demands& demanded_;
    std::optional<accented_reference> accented_;
    slide_course course_;
};

}  // namespace

judged_pattern judge_steps(const check_request& request, const pattern_part& part,
                           const pattern_readings& heard, const step_demands& demanded) {
    return step_judge{request, part, heard, demanded}.run();
}

}  // namespace cvrig
