#include "rig/checks/pattern_strikes.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

using kind = pattern_step::kind;

constexpr std::size_t fewest_plain_steps = 16;

// However alike the struck steps are, a model of a few numbers is no better than this.
constexpr double least_level_scatter_db = 0.1;
constexpr double least_brightness_scatter_db = 0.5;
// How well the step before, continued in a straight line, says how it would have gone on.
constexpr double going_on_level_db = 0.15;
constexpr double going_on_brightness_db = 0.7;
// How much further than those that were struck by a gate accents may reach at tied steps.
constexpr double accented_level_db = 0.25;
constexpr double accented_brightness_db = 0.5;
// As far from both answers as this, in standard deviations, it is neither.
constexpr double far_from_both = 9.0;
constexpr double least_neither_db = 1.0;

/// Level and brightness as two independent normal variables.
struct normal_law {
    offset_from_plain middle;
    double u_level_db, u_brightness_db;

    [[nodiscard]] double distance(const offset_from_plain& x) const {
        return std::hypot((x.level_db - middle.level_db) / u_level_db,
                          (x.brightness_db - middle.brightness_db) / u_brightness_db);
    }
    /// Without what all laws have in common.
    [[nodiscard]] double log_density(const offset_from_plain& x) const {
        const double d = distance(x);
        return -0.5 * d * d - std::log(u_level_db * u_brightness_db);
    }
};

bool is_heard(const pattern_readings& heard, std::size_t i) {
    return heard.steps[i].early && heard.steps[i].rms_volts >= heard.loudest_silence.value();
}

// A median absolute distance is worth 0.37 of a standard deviation from as many points (Rousseeuw
// and Croux 1993), a course of least absolute distances 2 / pi of one of least squares.
double u_beside(double scatter, std::size_t points) {
    constexpr double coefficients = 3.0;
    const double n = static_cast<double>(points);
    const double inflated = scatter * std::sqrt(n / (n - coefficients)) *
                            std::sqrt(1.0 + 0.5 * std::numbers::pi * coefficients / n);
    return widened(inflated, static_cast<std::size_t>(0.37 * (n - coefficients)));
}

}  // namespace

std::optional<plain_reference> plain_steps(const pattern_part& part,
                                           const pattern_readings& heard) {
    std::vector<double> x, level, brightness;
    for (std::size_t i = 0; i < part.steps.size(); ++i) {
        if (part.steps[i].what != kind::struck || part.steps[i].accent || !is_heard(heard, i))
            continue;
        x.push_back(heard.steps[i].early->pitch_v);
        level.push_back(heard.steps[i].early->level_db);
        brightness.push_back(heard.steps[i].early->brightness_db);
    }
    if (x.size() < fewest_plain_steps) return std::nullopt;
    auto l = analysis::fit_robust(x, level, 2);
    auto b = analysis::fit_robust(x, brightness, 2);
    if (!l || !b) return std::nullopt;
    const double u_level_db = std::max(l->scatter, least_level_scatter_db);
    return plain_reference{*l, *b, u_level_db, std::max(b->scatter, least_brightness_scatter_db),
                           u_beside(u_level_db, x.size())};
}

std::optional<offset_from_plain> beside_plain(const std::optional<pattern_moment>& moment,
                                              const plain_reference& plain) {
    if (!moment) return std::nullopt;
    return offset_from_plain{moment->level_db - plain.level_db(moment->pitch_v),
                             moment->brightness_db - plain.brightness_db(moment->pitch_v)};
}

offset_from_plain accented_reference::nearest(const offset_from_plain& to) const noexcept {
    return {std::clamp(to.level_db, least.level_db, most.level_db),
            std::clamp(to.brightness_db, least.brightness_db, most.brightness_db)};
}

std::optional<accented_reference> accented_steps(const pattern_part& part,
                                                 const pattern_readings& heard,
                                                 const plain_reference& plain,
                                                 double least_rise_db) {
    std::vector<double> level, brightness;
    for (std::size_t i = 0; i < part.steps.size(); ++i) {
        if (part.steps[i].what != kind::struck || !is_heard(heard, i)) continue;
        const auto off = beside_plain(heard.steps[i].early, plain);
        if (!off || off->level_db < least_rise_db) continue;
        level.push_back(off->level_db);
        brightness.push_back(off->brightness_db);
    }
    if (level.size() < 3) return std::nullopt;
    const auto [quiet, loud] = std::ranges::minmax(level);
    const auto [dark, bright] = std::ranges::minmax(brightness);
    return accented_reference{{quiet, dark}, {loud, bright}};
}

std::optional<step_odds> strike_odds(const pattern_readings& heard, std::size_t i,
                                     const plain_reference& plain,
                                     const std::optional<accented_reference>& accented) {
    if (i == 0 || !is_heard(heard, i) || !is_heard(heard, i - 1)) return std::nullopt;
    const auto& before = heard.steps[i - 1];
    if (!before.late) return std::nullopt;
    const auto x = *beside_plain(heard.steps[i].early, plain);
    const auto early = *beside_plain(before.early, plain);
    const auto late = *beside_plain(before.late, plain);
    // The step before goes on falling, a little slower than it fell.
    const double fell = before.late->at_s - before.early->at_s;
    const double falls = before.length_s - before.late->at_s + heard.steps[i].early->at_s;
    const double share = fell > 0.0 ? std::min(0.8 * falls / fell, 1.5) : 0.0;
    const offset_from_plain going_on{
        late.level_db + share * (late.level_db - early.level_db),
        late.brightness_db + share * (late.brightness_db - early.brightness_db)};
    const normal_law on{going_on, std::hypot(plain.u_level_db, going_on_level_db),
                        std::hypot(plain.u_brightness_db, going_on_brightness_db)};
    // Whether a strike has the right accent is another question: both kinds count as struck.
    const normal_law again{{0.0, 0.0}, plain.u_level_db, plain.u_brightness_db};
    double struck = again.log_density(x);
    double nearest = std::min(on.distance(x), again.distance(x));
    if (accented) {
        const normal_law loud{accented->nearest(x), std::hypot(plain.u_level_db, accented_level_db),
                              std::hypot(plain.u_brightness_db, accented_brightness_db)};
        struck = std::max(struck, loud.log_density(x));
        nearest = std::min(nearest, loud.distance(x));
    }
    step_odds out{struck - std::log(2.0) - on.log_density(x), false,
                  x.level_db - going_on.level_db};
    out.is_neither =
        nearest > far_from_both && std::abs(x.level_db - going_on.level_db) > least_neither_db;
    return out;
}

}  // namespace cvrig
