#pragma once

#include <cmath>
#include <functional>
#include <string>
#include <vector>

#include "rig/calibration/story.hpp"

/// Invented calibrations of which everything is known.
namespace cvrig::testing {

/// A unit's converter and what its firmware makes of it.
struct invented_unit {
    double gain = 1.007;
    double offset_volts = 0.009;
    double bow_per_volt = 0.00003;  ///< the converter's error in volts, times volts squared

    /// Codes are the volts that a perfect converter of gain 1 would have seen.
    [[nodiscard]] double code(double at_volts) const {
        return gain * at_volts + offset_volts + bow_per_volt * at_volts * at_volts;
    }
    [[nodiscard]] double sounds(double at_volts, const pitch_constants& c) const {
        return c.offset_volts + c.gain_volts_per_code * code(at_volts);
    }
};

/// A stair up and down in whole tones over four octaves, with errors of chance of a twentieth of a
/// cent that are the same each time.
[[nodiscard]] inline std::vector<tracked_note> stair(const invented_unit& unit,
                                                     const pitch_constants& c,
                                                     unsigned scatter = 1) {
    constexpr int notes = 25;
    std::vector<tracked_note> all;
    for (int i = 0; i < 2 * notes; ++i) {
        const bool upward = i < notes;
        const double v = (upward ? i : 2 * notes - 1 - i) * 4.0 / (notes - 1);
        const double chance = 0.05 * std::sin(7.3 * i + 1.7 * scatter);
        all.push_back({v, 1200.0 * (unit.sounds(v, c) - v) + chance, 0.04, upward});
    }
    return all;
}

[[nodiscard]] inline limit within(double cents) {
    return {-cents, cents, {}, dimension::cents, "within " + std::to_string(cents) + " cent"};
}

/// The constants of least squares through three voltages, each with its code.
[[nodiscard]] inline pitch_constants through(const std::vector<double>& codes) {
    double mean = 0.0;
    for (const double c : codes) mean += c / 3.0;
    double products = 0.0;
    double squares = 0.0;
    for (std::size_t i = 0; i < 3; ++i) {
        products += (codes[i] - mean) * (static_cast<double>(i) - 1.0);
        squares += (codes[i] - mean) * (codes[i] - mean);
    }
    return {2.0 - products / squares * mean, products / squares};
}

/// A unit with the constants of a perfect one, calibrated at 1, 2 and 3 V; `stored` says what becomes
/// of the constants that the voltages give.
struct invented_calibration {
    invented_unit unit{};
    std::function<pitch_constants(const pitch_constants&)> stored{};
    double early_share{0.0};  ///< of the step to voltage `early` that is still to come
    std::size_t early{2};
    bool tells{true};  ///< codes and constants

    [[nodiscard]] calibration_story story() const {
        const pitch_constants factory{0.0, 1.0};
        calibration_story s;
        s.u_common_cents = 0.2;
        s.error = within(3.0);
        s.kept = within(1.0);
        s.before = moment("before", factory, 1);
        std::vector<double> codes;
        for (std::size_t i = 0; i < 3; ++i) {
            double at_volts = static_cast<double>(i) + 1.0;
            if (i + 1 == early) at_volts -= early_share;
            codes.push_back(unit.code(at_volts));
            calibrated_point point;
            point.asked = volts{static_cast<double>(i) + 1.0};
            if (tells) point.seen = codes.back();
            s.procedure.points.push_back(point);
        }
        const auto fitted = through(codes);
        s.after = moment("after", stored ? stored(fitted) : fitted, 2);
        for (const auto* name : {"power cycle", "settings reset", "re-flash"}) {
            s.survived.push_back(s.after);
            s.survived.back().name = name;
        }
        const auto best = best_constants_of(s.after.notes, 1.0, s.u_common_cents, s.after.told);
        if (best) s.best = *best;
        return s;
    }
    [[nodiscard]] tracking_moment moment(const std::string& name, const pitch_constants& c,
                                         unsigned scatter) const {
        tracking_moment m{.name = name,
                          .notes = stair(unit, c, scatter),
                          .told = {},
                          .told_table = {},
                          .problem = {}};
        if (tells) m.told = c;
        return m;
    }
};

}  // namespace cvrig::testing
