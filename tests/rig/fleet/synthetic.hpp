#pragma once

#include <cstdint>
#include <functional>
#include <random>
#include <string>
#include <vector>

#include "rig/fleet/tracking_record.hpp"

/// Fleets of known truth.
namespace cvrig::testing {

/// What one unit is like, under the default constants.
struct true_unit {
    double gain_cents_per_octave{0.0};
    double offset_cents{0.0};
    double bend_cents{0.0};           ///< of a parabola: at the middle of the range, less the ends
    double knee_volts{9.0};           ///< from here on...
    double knee_cents_per_volt{0.0};  ///< ... so much more
    double hysteresis_cents{0.0};     ///< down less up

    [[nodiscard]] double error_at(double volts) const {
        const double from_middle = (volts - 2.0) / 2.0;
        const double knee = volts > knee_volts ? knee_cents_per_volt * (volts - knee_volts) : 0.0;
        return offset_cents + gain_cents_per_octave * volts +
               bend_cents * (1.0 - from_middle * from_middle) + knee;
    }
    /// Its largest error over the notes that are played, with a further error in cents at 0 V and
    /// more for each volt.
    [[nodiscard]] double worst(double add_cents = 0.0, double add_per_volt = 0.0) const {
        double out = 0.0;
        for (int i = 0; i <= 12; ++i) {
            const double volts = i / 3.0;
            out = std::max(out, std::abs(error_at(volts) + add_cents + add_per_volt * volts));
        }
        return out;
    }
};

struct circumstances {
    std::string unit{"1"};
    std::string build{"1.0"};
    std::string started{"2026-01-01T00:00:00Z"};
    std::string bench{"desk"};
    constants_in_force in_force{constants_in_force::by_default};
    double noise_cents{0.01};
    double u_common_cents{0.0};
};

/// A stair from 0 V to 4 V in thirds of an octave, up and down.
[[nodiscard]] inline tracking_record record_of_unit(const true_unit& truth, const circumstances& c,
                                                    std::mt19937_64& random) {
    std::normal_distribution<double> noise{0.0, 1.0};
    tracking_record r;
    r.module = std::string{"Ferrule"};
    r.unit = c.unit;
    r.build = c.build;
    r.bench = c.bench;
    r.started = c.started;
    r.in_force = c.in_force;
    r.choice = {{"mode", "tied"}};
    r.u_common_cents = c.u_common_cents;
    for (int i = 0; i < 26; ++i) {
        const bool up = i < 13;
        const double volts = (up ? i : 25 - i) / 3.0;
        const double error = truth.error_at(volts) + (up ? 0.0 : truth.hysteresis_cents) +
                             c.noise_cents * noise(random);
        r.notes.push_back({volts, error, c.noise_cents, up});
    }
    return r;
}

/// A population to draw units from.
using population = std::function<true_unit(std::mt19937_64&)>;

/// 8 cents an octave either way, none near the middle: resistors that were sorted by hand.
[[nodiscard]] inline true_unit two_humped(std::mt19937_64& random) {
    std::uniform_real_distribution<double> u{-1.0, 1.0};
    const double drawn = u(random);
    return {.gain_cents_per_octave = std::copysign(4.0, drawn) + 8.0 * drawn,
            .offset_cents = 6.0 * u(random)};
}

[[nodiscard]] inline true_unit normal_unit(std::mt19937_64& random) {
    std::normal_distribution<double> n{0.0, 1.0};
    true_unit out;
    out.gain_cents_per_octave = 1.0 + 1.2 * n(random);
    out.offset_cents = -1.0 + 1.5 * n(random);
    out.bend_cents = 0.3 * n(random);
    return out;
}

[[nodiscard]] inline std::vector<tracking_record> fleet_of(const population& draw, int units,
                                                           std::mt19937_64& random) {
    std::vector<tracking_record> out;
    for (int i = 1; i <= units; ++i)
        out.push_back(record_of_unit(draw(random), {.unit = std::to_string(i)}, random));
    return out;
}

}  // namespace cvrig::testing
