#include "rig/checks/unplugged.hpp"

#include "rig/checks/control_curve.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

constexpr const char* key = "reads as";

check_result judge_curve(const check_request& request, std::span<const heard_passage> heard) {
    return note_curve(request, heard, {key});
}

// The rig goes on moving a cable that leads nowhere: what still follows it is seen, too.
std::vector<reading> readings_of(std::span<const curve_point> plugged,
                                 std::span<const curve_point> pulled) {
    std::vector<reading> out;
    for (const auto& p : pulled) {
        const auto equal = volts_for(plugged, p.cutoff, p.u);
        if (!equal) continue;
        out.push_back(make_reading(
            equal->at.value(), dimension::volts, {{"levels of the harmonics", equal->u.value()}},
            "the cable pulled, its loose end at " + show(p.at.value(), dimension::volts)));
        out.back().where = p.at.value();
    }
    return out;
}

std::vector<check_result> conclude(const module_expectations& m, const bench& b,
                                   const check_expectation& wanted,
                                   std::span<const check_result> results) {
    std::vector<check_result> all;
    const auto plugged = curve_of(results.front());
    for (const auto& other : results.subspan(1)) {
        const check_request request{m, b, wanted, other.choice, other.attempts};
        findings out{request};
        const auto readings = readings_of(plugged, curve_of(other));
        if (other.outcome() == verdict::skipped && !other.findings.empty()) continue;
        if (readings.empty())
            out.doubt(key, "One of the two choices of settings could not be read.");
        else
            out.add_worst(key, readings);
        check_result result;
        result.choice = other.choice;
        result.findings = std::move(out).take();
        all.push_back(std::move(result));
    }
    return all;
}

}  // namespace

check unplugged_check() {
    return {.spec = {.name = "unplugged",
                     .plays = "a low sawtooth while the cutoff CV goes up, with its cable in (the "
                              "first of the settings) and pulled (the others)",
                     .reads = "what the cutoff jack counts as without a cable",
                     .keys = {{.name = "note",
                               .kind = key_spec::form::measure,
                               .unit = dimension::volts,
                               .meaning = "the pitch voltage of the held sawtooth, a low one"},
                              {.name = key,
                               .unit = dimension::volts,
                               .meaning = "without its cable the jack counts as so many volts"}}},
            .plan = curve_passages,
            .judge = judge_curve,
            .conclude = conclude};
}

}  // namespace cvrig
