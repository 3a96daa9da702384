#include "rig/diagnosis/tracking_models.hpp"

#include <algorithm>
#include <cmath>
#include <functional>

#include "analysis/fit.hpp"

namespace cvrig {

namespace {

// Converters, their buffers and the module's tuning leave this much in good builds; a cause is not
// preferred for explaining less.
constexpr double usual_roughness_cents = 0.7;

using column = std::function<double(const stair_point&)>;

void set_price(stair_model& m, std::size_t free_numbers) {
    const auto& left = m.left_cents;
    const auto n = static_cast<double>(left.size());
    double sum = 0.0;
    for (const double l : left) sum += l * l;
    const double variance = sum / n + usual_roughness_cents * usual_roughness_cents;
    m.free_numbers = free_numbers;
    m.price = n * std::log(variance) + static_cast<double>(free_numbers) * std::log(n);
}

double zero(const stair_point&) {
    return 0.0;
}

// offset + size * shape, or without the offset. `hidden` counts numbers that were searched for and
// not fitted, such as where a knee lies.
stair_model fitted(std::string cause, const std::vector<stair_point>& stair, const column& shape,
                   std::size_t hidden = 0) {
    std::vector<double> x, y;
    for (const auto& p : stair) {
        x.push_back(shape(p));
        y.push_back(p.error_cents);
    }
    stair_model out{.cause = std::move(cause), .numbers = {0.0, 0.0}, .left_cents = {}};
    std::size_t free_numbers = 1 + hidden;
    if (const auto line = analysis::fit_line(x, y)) {
        out.numbers = {line->intercept, line->slope};
        ++free_numbers;
    } else {  // a shape that is the same everywhere: nothing but an offset
        for (const double e : y) out.numbers[0] += e / static_cast<double>(y.size());
    }
    for (std::size_t i = 0; i < x.size(); ++i)
        out.left_cents.push_back(y[i] - out.numbers[0] - out.numbers[1] * x[i]);
    set_price(out, free_numbers);
    return out;
}

stair_model through_reference(const std::vector<stair_point>& stair) {
    double xy = 0.0, xx = 0.0;
    for (const auto& p : stair) {
        xy += p.octaves * p.error_cents;
        xx += p.octaves * p.octaves;
    }
    stair_model out{
        .cause = "pitch slope", .numbers = {xx > 0.0 ? xy / xx : 0.0}, .left_cents = {}};
    for (const auto& p : stair)
        out.left_cents.push_back(p.error_cents - out.numbers[0] * p.octaves);
    set_price(out, 1);
    return out;
}

// The place between two notes where a model with a corner fits best; it is added to the numbers.
stair_model best_corner(const std::string& cause, const std::vector<stair_point>& stair,
                        const std::function<column(double)>& shape_at) {
    std::vector<double> corners;
    for (const auto& p : stair) corners.push_back(p.octaves);
    std::ranges::sort(corners);
    corners.erase(std::unique(corners.begin(), corners.end(),
                              [](double a, double b) { return b - a < 1e-6; }),
                  corners.end());
    std::optional<stair_model> best;
    for (std::size_t i = 1; i + 1 < corners.size(); ++i) {
        for (const double at : {corners[i], 0.5 * (corners[i] + corners[i + 1])}) {
            auto m = fitted(cause, stair, shape_at(at), 1);
            m.numbers.push_back(at);
            if (!best || m.price < best->price) best = std::move(m);
        }
    }
    return best.value_or(fitted(cause, stair, zero));
}

// How many different errors there are, a twentieth of a step apart. Notes lie anywhere between the
// steps of a coarse converter; two errors alone are some other cause.
std::size_t different_errors(const std::vector<stair_point>& stair, double step_cents) {
    std::vector<double> errors;
    for (const auto& p : stair) errors.push_back(p.error_cents);
    std::ranges::sort(errors);
    std::size_t count = 1;
    for (std::size_t i = 1; i < errors.size(); ++i)
        count += errors[i] - errors[i - 1] > 0.05 * step_cents ? 1u : 0u;
    return count;
}

// Of a coarse converter no note is off by more than half a step, or by a whole one where noise makes
// a note half-way between two steps sound there, which halves the step that is found.
bool lie_within_a_step(const std::vector<stair_point>& stair, double step_cents) {
    const auto [low, high] = std::ranges::minmax(stair, {}, &stair_point::error_cents);
    return high.error_cents - low.error_cents < 2.2 * step_cents;
}

// What is left when every note is put on the nearest of equal steps, as a coarse converter does.
std::optional<stair_model> best_grid(const std::vector<stair_point>& stair) {
    std::optional<stair_model> best;
    double best_share = 1.0;
    for (double step_cents = 4.0; step_cents < 200.0; step_cents *= 1.0001) {
        double re = 0.0, im = 0.0;
        for (const auto& p : stair) {
            const double turn = (1200.0 * p.octaves + p.error_cents) / step_cents * 2.0 * M_PI;
            re += std::cos(turn);
            im += std::sin(turn);
        }
        const double phase = std::atan2(im, re) / (2.0 * M_PI);
        stair_model m{.cause = "steps of the converter", .numbers = {step_cents}, .left_cents = {}};
        for (const auto& p : stair) {
            const double in_steps = (1200.0 * p.octaves + p.error_cents) / step_cents - phase;
            m.left_cents.push_back(step_cents * (in_steps - std::round(in_steps)));
        }
        // A fine grid fits anything: it must leave far less than a chance grid, a third of whose
        // step would be left.
        double sum = 0.0;
        for (const double l : m.left_cents) sum += l * l;
        const double left = std::sqrt(sum / static_cast<double>(stair.size()));
        if (left > 0.06 * step_cents || different_errors(stair, step_cents) < 5 ||
            !lie_within_a_step(stair, step_cents))
            continue;
        set_price(m, 4);
        // Every part of the true step fits as well, but not as well for its size.
        if (left / step_cents >= best_share) continue;
        best_share = left / step_cents;
        best = std::move(m);
    }
    return best;
}

// Some notes keep the pitch before; the others are right.
stair_model kept_pitches(const std::vector<stair_point>& stair) {
    stair_model m{.cause = "old pitch kept", .numbers = {0.0}, .left_cents = {}};
    std::vector<double> errors;
    for (const auto& p : stair) errors.push_back(p.error_cents);
    std::ranges::nth_element(errors,
                             errors.begin() + static_cast<std::ptrdiff_t>(errors.size() / 2));
    const double base = errors[errors.size() / 2];
    for (std::size_t i = 0; i < stair.size(); ++i) {
        double left = stair[i].error_cents - base;
        if (i > 0) {
            const double before = 1200.0 * stair[i - 1].octaves + stair[i - 1].error_cents -
                                  1200.0 * stair[i].octaves;
            if (std::abs(stair[i].error_cents - before) < std::abs(left) && std::abs(left) > 20.0) {
                left = stair[i].error_cents - before;
                m.numbers[0] += 1.0;
            }
        }
        m.left_cents.push_back(left);
    }
    set_price(m, 3);
    return m;
}

// From where the first note was reached is not known: it may lie anywhere between the two ways.
stair_model hysteresis(const std::vector<stair_point>& stair) {
    const std::vector<stair_point> moved{stair.begin() + 1, stair.end()};
    auto m = fitted(
        "hysteresis", moved, [](const stair_point& p) { return p.going_up; }, 1);
    m.left_cents.insert(m.left_cents.begin(), 0.0);
    return m;
}

stair_model whole_octaves(const std::vector<stair_point>& stair) {
    stair_model m{.cause = "octave", .numbers = {0.0, 0.0}, .left_cents = {}};
    for (const auto& p : stair) {
        const double octaves = std::round(p.error_cents / 1200.0);
        if (octaves != 0.0) {
            m.numbers[0] += 1.0;
            m.numbers[1] = octaves;
        }
        m.left_cents.push_back(p.error_cents - 1200.0 * octaves);
    }
    double mean = 0.0;
    for (const double l : m.left_cents) mean += l / static_cast<double>(stair.size());
    for (auto& l : m.left_cents) l -= mean;
    set_price(m, 2);
    return m;
}

// Pitch that stops following: beyond a voltage every note sounds as the last one before.
stair_model stops(const std::string& cause, const std::vector<stair_point>& stair, bool at_top) {
    const auto beyond = [&](double at, double octaves) {
        return at_top ? std::max(0.0, octaves - at) : std::min(0.0, octaves - at);
    };
    std::optional<stair_model> best;
    for (double at = -2.0; at < 10.0; at += 1.0 / 240.0) {
        stair_model m{.cause = cause, .numbers = {0.0, at}, .left_cents = {}};
        double sum = 0.0;
        bool any = false;
        for (const auto& p : stair) {
            m.left_cents.push_back(p.error_cents + 1200.0 * beyond(at, p.octaves));
            sum += m.left_cents.back();
            any = any || beyond(at, p.octaves) != 0.0;
        }
        if (!any) continue;
        m.numbers[0] = sum / static_cast<double>(stair.size());
        for (auto& l : m.left_cents) l -= m.numbers[0];
        set_price(m, 2);
        if (!best || m.price < best->price) best = std::move(m);
    }
    return best.value_or(fitted(cause, stair, zero));
}

}  // namespace

std::vector<stair_model> stair_models(const std::vector<stair_point>& stair) {
    if (stair.size() < 4) return {};
    std::vector<stair_model> out;
    out.push_back(fitted("pitch offset", stair, zero));
    out.push_back(through_reference(stair));
    out.push_back(
        fitted("offset and slope", stair, [](const stair_point& p) { return p.octaves; }));
    out.push_back(hysteresis(stair));
    const auto count = static_cast<double>(stair.size());
    const stair_point* first = stair.data();
    out.push_back(fitted("drift", stair, [first, count](const stair_point& p) {
        return static_cast<double>(&p - first) / count;
    }));
    out.push_back(best_corner("knee", stair, [](double at) {
        return [at](const stair_point& p) { return std::max(0.0, p.octaves - at); };
    }));
    out.push_back(best_corner("jump", stair, [](double at) {
        return [at](const stair_point& p) { return p.octaves > at - 1e-6 ? 1.0 : 0.0; };
    }));
    out.push_back(stops("top clipped", stair, true));
    out.push_back(stops("bottom clipped", stair, false));
    out.push_back(whole_octaves(stair));
    out.push_back(kept_pitches(stair));
    if (auto grid = best_grid(stair)) out.push_back(std::move(*grid));
    return out;
}

}  // namespace cvrig
