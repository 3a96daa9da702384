#include "rig/checks/knob_and_jack.hpp"

#include <algorithm>
#include <cmath>

#include "rig/checks/compared_pairs.hpp"
#include "rig/checks/control_curve.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

constexpr const char* knob_key = "knob";
constexpr const char* worth_key = "knob is worth";
constexpr const char* sum_key = "adds up";

check_result judge_curve(const check_request& request, std::span<const heard_passage> heard) {
    return note_curve(request, heard, {worth_key, sum_key});
}

volts hypotenuse(volts a, volts b) {
    return volts{std::hypot(a.value(), b.value())};
}

// From the knob's cutoff to that with so many volts added, in volts of the jack alone.
std::optional<reading> sum_of(std::span<const curve_point> down, const equal_volts& knob,
                              const curve_point& added, double own_volts) {
    if (knob.at + volts{own_volts} > down.back().at + volts{0.3}) return std::nullopt;
    const auto both = volts_for(down, added);
    if (!both) return std::nullopt;
    const double moved = (both->at - knob.at).value();
    // The two voltages come from the same two takes.
    const equal_volts apart{.at = both->at - knob.at,
                            .by_noise = hypotenuse(both->by_noise, knob.by_noise),
                            .by_wave = hypotenuse(both->by_wave, knob.by_wave),
                            .by_moving = hypotenuse(both->by_moving, knob.by_moving),
                            .by_bend = hypotenuse(both->by_bend, knob.by_bend),
                            .by_rest_of_curve = both->by_rest_of_curve - knob.by_rest_of_curve,
                            .by_rest_of_point = both->by_rest_of_point - knob.by_rest_of_point,
                            .by_law = both->by_law - knob.by_law};
    auto budget = apart.budget();
    for (auto& part : budget) part.standard_uncertainty *= 100.0 / own_volts;
    auto out =
        make_reading(100.0 * (moved - own_volts) / own_volts, dimension::percent, std::move(budget),
                     show(added.at.value(), dimension::volts) + " beside the knob");
    out.where = added.at.value();
    return out;
}

void compare(findings& out, const check_request& request, std::span<const curve_point> down,
             std::span<const curve_point> turned, const std::string& at) {
    const auto knob = volts_for(down, turned.front());
    if (!knob) return;
    const volts worth = knob->at - turned.front().at;
    auto budget = knob->budget();
    budget.push_back({"bench voltage", u_of_distance(request, worth).value()});
    out.add(worth_key, make_reading(worth.value(), dimension::volts, std::move(budget), at));
    std::vector<reading> sums;
    for (const auto& added : turned.subspan(1)) {
        const double own = (added.at - turned.front().at).value();
        if (const auto sum = sum_of(down, *knob, added, own)) sums.push_back(*sum);
    }
    out.add_worst(sum_key, sums);
}

void compare_curves(findings& out, const check_request& request, const check_result& first,
                    const check_result& other) {
    const auto down = curve_of(first);
    const auto turned = curve_of(other);
    if (down.size() > 1 && turned.size() > 1)
        compare(out, request, down, turned, in_words(other.choice));
}

std::vector<check_result> conclude(const module_expectations& m, const bench& b,
                                   const check_expectation& wanted,
                                   std::span<const check_result> results) {
    return compare_pairs({knob_key, {worth_key, sum_key}, compare_curves}, m, b, wanted, results);
}

}  // namespace

check knob_and_jack_check() {
    return {.spec = {.name = "knob and jack",
                     .plays = "a low sawtooth while the cutoff CV goes up, with the knob down (the "
                              "first of its values) and elsewhere (the others)",
                     .reads = "whether the cutoff's knob and jack add up",
                     .keys = {{.name = "note",
                               .kind = key_spec::form::measure,
                               .unit = dimension::volts,
                               .meaning = "the pitch voltage of the held sawtooth, a low one"},
                              {.name = knob_key,
                               .kind = key_spec::form::setting,
                               .meaning = "the setting that turns the knob, where 'in' varies "
                                          "others as well"},
                              {.name = worth_key,
                               .unit = dimension::volts,
                               .meaning = "the knob alone opens the filter as far as so many volts "
                                          "at the jack"},
                              {.name = sum_key,
                               .unit = dimension::percent,
                               .meaning = "beside the knob the jack moves the cutoff as far as "
                                          "alone, but for"}},
                     .compares = knob_key,
                     .moves = {"cutoff"}},
            .plan = curve_passages,
            .judge = judge_curve,
            .conclude = conclude};
}

}  // namespace cvrig
