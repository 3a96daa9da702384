#include <rapidcheck.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <numeric>

#include "rig/run/fewest_changes.hpp"
#include "rig/run/order_takes.hpp"

using namespace cvrig;

namespace {

using order = std::vector<std::size_t>;

int length_of(const std::vector<positions>& points, const order& way,
              const std::optional<positions>& start = {}) {
    int sum = start ? changes(*start, points[way.front()]) : 0;
    for (std::size_t i = 1; i < way.size(); ++i) sum += changes(points[way[i - 1]], points[way[i]]);
    return sum;
}

/// Tries every order. The first that is best is the one with the smallest numbers first.
order by_trying_all(const std::vector<positions>& points, const std::optional<positions>& start) {
    order way(points.size());
    std::iota(way.begin(), way.end(), std::size_t{0});
    order best = way;
    do {
        if (length_of(points, way, start) < length_of(points, best, start)) best = way;
    } while (std::ranges::next_permutation(way).found);
    return best;
}

/// Up to `draws` points, each once, in the order in which they are drawn.
std::vector<positions> distinct_points(std::size_t draws, int dimensions, int values) {
    std::vector<positions> points;
    for (std::size_t i = 0; i < draws; ++i) {
        auto p = *rc::gen::resize(
            rc::kNominalSize, rc::gen::container<positions>(static_cast<std::size_t>(dimensions),
                                                            rc::gen::inRange(0, values)));
        if (std::ranges::find(points, p) == points.end()) points.push_back(std::move(p));
    }
    return points;
}

bool visits_all(const order& way, std::size_t n) {
    auto sorted = way;
    std::ranges::sort(sorted);
    order all(n);
    std::iota(all.begin(), all.end(), std::size_t{0});
    return sorted == all;
}

std::vector<positions> product(const std::vector<int>& sizes) {
    std::vector<positions> all{{}};
    for (const int size : sizes) {
        std::vector<positions> longer;
        for (const auto& p : all)
            for (int v = 0; v < size; ++v) {
                longer.push_back(p);
                longer.back().push_back(v);
            }
        all = std::move(longer);
    }
    return all;
}

module_expectations with_settings(const std::vector<std::string>& by_hand,
                                  const std::vector<std::string>& by_console) {
    module_expectations m;
    for (const auto& name : by_console) {
        setting s;
        s.name = name;
        s.console = name + " {value}";
        m.settings.push_back(s);
    }
    for (const auto& name : by_hand) {
        setting s;
        s.name = name;
        m.settings.push_back(s);
    }
    return m;
}

run_plan plan_of(const std::vector<setting_choice>& choices) {
    run_plan plan;
    for (const auto& c : choices)
        plan.takes.push_back({.choice = c, .attempt = 1, .checks = {}, .played = {}});
    return plan;
}

std::vector<setting_choice> choices_of(const run_plan& plan) {
    std::vector<setting_choice> all;
    for (const auto& t : plan.takes) all.push_back(t.choice);
    return all;
}

}  // namespace

TEST_CASE("order: no order of a few points has fewer changes, as trying all of them shows",
          "[run][order]") {
    CHECK(rc::check([] {
        const auto points = distinct_points(*rc::gen::inRange<std::size_t>(1, 7),
                                            *rc::gen::inRange(1, 4), *rc::gen::inRange(1, 4));
        std::optional<positions> start;
        if (*rc::gen::arbitrary<bool>())
            start = *rc::gen::container<positions>(points.front().size(), rc::gen::inRange(-1, 4));
        RC_ASSERT(fewest_changes(points, start) == by_trying_all(points, start));
    }));
}

TEST_CASE("order: all combinations of many positions need one change each", "[run][order]") {
    for (const auto& sizes : {std::vector{3, 3, 2}, std::vector{2, 2, 2, 2, 2},
                              std::vector{5, 4, 3}, std::vector{1, 14}, std::vector{7, 1, 9}}) {
        const auto points = product(sizes);
        REQUIRE(points.size() > most_exact);
        const auto way = fewest_changes(points);
        CHECK(visits_all(way, points.size()));
        CHECK(way.front() == 0);
        CHECK(length_of(points, way) == static_cast<int>(points.size()) - 1);  // none can do better
        const auto start = points[points.size() / 2];
        CHECK(length_of(points, fewest_changes(points, start), start) ==
              static_cast<int>(points.size()) - 1);
    }
}

TEST_CASE("order: many points never need more than twice the changes of the least tree",
          "[run][order]") {
    CHECK(rc::check([] {
        const auto points = distinct_points(40, *rc::gen::inRange(3, 6), *rc::gen::inRange(3, 5));
        RC_PRE(points.size() > most_exact);
        const auto way = fewest_changes(points);
        RC_ASSERT(visits_all(way, points.size()));
        RC_ASSERT(length_of(points, way) <= 2 * least_changes(points));
    }));
}

TEST_CASE("order: the least number of changes is a true bound", "[run][order]") {
    CHECK(rc::check([] {
        const auto points = distinct_points(*rc::gen::inRange<std::size_t>(1, 7),
                                            *rc::gen::inRange(1, 4), *rc::gen::inRange(1, 4));
        RC_ASSERT(least_changes(points) <= length_of(points, by_trying_all(points, {})));
    }));
}

TEST_CASE("order: takes that need the same hands stay together, in the file's order",
          "[run][order]") {
    const auto m = with_settings({"wave", "octave"}, {"mode"});
    const std::vector<setting_choice> as_filed{
        {{"mode", "tied"}, {"wave", "saw"}, {"octave", "low"}},
        {{"mode", "wide"}, {"wave", "square"}, {"octave", "high"}},
        {{"mode", "wide"}, {"wave", "saw"}, {"octave", "low"}},
        {{"mode", "tied"}, {"wave", "square"}, {"octave", "low"}},
        {{"mode", "tied"}, {"wave", "saw"}, {"octave", "high"}},
    };
    const auto ordered = choices_of(order_takes(plan_of(as_filed), m, true));
    CHECK(ordered == std::vector<setting_choice>{as_filed[0], as_filed[2], as_filed[3], as_filed[1],
                                                 as_filed[4]});
    CHECK(hand_work_of(plan_of(as_filed), m, true).actions == 2 + 2 + 2 + 1 + 2);
    const auto work = hand_work_of(order_takes(plan_of(as_filed), m, true), m, true);
    CHECK(work.actions == 2 + 1 + 1 + 1);
    CHECK(work.at_least == work.actions);
}

TEST_CASE("order: without a console the operator's work counts for every setting", "[run][order]") {
    const auto m = with_settings({}, {"mode", "wave"});
    const auto plan = plan_of({{{"mode", "a"}, {"wave", "x"}},
                               {{"mode", "b"}, {"wave", "y"}},
                               {{"mode", "a"}, {"wave", "y"}}});
    CHECK(hand_work_of(plan, m, true).actions == 0);
    CHECK(hand_work_of(plan, m, false).actions == 2 + 2 + 1);
    CHECK(hand_work_of(order_takes(plan, m, false), m, false).actions == 2 + 1 + 1);
    // With a console nothing costs anything, but settings stay grouped.
    CHECK(choices_of(order_takes(plan, m, true)) ==
          std::vector<setting_choice>{plan.takes[0].choice, plan.takes[2].choice,
                                      plan.takes[1].choice});
}

TEST_CASE("order: retakes begin where the module stands", "[run][order]") {
    const auto m = with_settings({"wave"}, {});
    const auto plan = plan_of({{{"wave", "saw"}}, {{"wave", "square"}}});
    const auto ordered = order_takes(plan, m, false, setting_choice{{"wave", "square"}});
    CHECK(ordered.takes.front().choice.at("wave") == "square");
}

TEST_CASE("order: an order that cannot be better stays as the file has it", "[run][order]") {
    const auto m = with_settings({"knob"}, {"mode"});
    const std::vector<setting_choice> as_filed{{{"mode", "tied"}, {"knob", "down"}},
                                               {{"mode", "struck"}, {"knob", "down"}},
                                               {{"mode", "wide"}, {"knob", "down"}}};
    CHECK(choices_of(order_takes(plan_of(as_filed), m, true)) == as_filed);
    CHECK(choices_of(order_takes(plan_of(as_filed), m, false)) == as_filed);
}
