#include "rig/checks/unplugged.hpp"

#include "rig/checks/compared_pairs.hpp"
#include "rig/checks/control_curve.hpp"
#include "rig/checks/cutoff_stair.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

constexpr const char* cable_key = "cable";
constexpr const char* key = "reads as";

check_result judge_curve(const check_request& request, std::span<const heard_passage> heard) {
    return note_curve(request, heard, {key});
}

// The rig goes on moving a cable that leads nowhere: what still follows it is seen, too.
std::vector<reading> readings_of(const check_request& request, std::span<const curve_point> plugged,
                                 std::span<const curve_point> pulled) {
    std::vector<reading> out;
    for (const auto& p : pulled) {
        const auto equal = volts_for(plugged, p);
        if (!equal) continue;
        auto budget = equal->budget();
        budget.push_back({"bench voltage", u_of_jack(request, "cutoff").value()});
        out.push_back(make_reading(
            equal->at.value(), dimension::volts, std::move(budget),
            "the cable pulled, its loose end at " + show(p.at.value(), dimension::volts)));
        out.back().where = p.at.value();
    }
    return out;
}

void compare_curves(findings& out, const check_request& request, const check_result& first,
                    const check_result& other) {
    const auto readings = readings_of(request, curve_of(first), curve_of(other));
    if (!readings.empty()) out.add_worst(key, readings);
}

std::vector<check_result> conclude(const module_expectations& m, const bench& b,
                                   const check_expectation& wanted,
                                   std::span<const check_result> results) {
    return compare_pairs({cable_key, {key}, compare_curves}, m, b, wanted, results);
}

}  // namespace

check unplugged_check() {
    return {.spec = {.name = "unplugged",
                     .plays = "a low sawtooth while the cutoff CV goes up, with its cable in (the "
                              "first of its values) and pulled (the others)",
                     .reads = "what the cutoff jack counts as without a cable",
                     .keys = {{.name = "note",
                               .kind = key_spec::form::measure,
                               .unit = dimension::volts,
                               .meaning = "the pitch voltage of the held sawtooth, a low one"},
                              {.name = cable_key,
                               .kind = key_spec::form::setting,
                               .meaning = "the setting that plugs and pulls the cable, where 'in' "
                                          "varies others as well"},
                              {.name = key,
                               .unit = dimension::volts,
                               .meaning = "without its cable the jack counts as so many volts"}},
                     .compares = cable_key,
                     .moves = {"cutoff"}},
            .plan = curve_passages,
            .judge = judge_curve,
            .conclude = conclude};
}

}  // namespace cvrig
