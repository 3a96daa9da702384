#include "rig/fleet/unit_traits.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <vector>

namespace cvrig {

namespace {

/// Notes at one voltage, to a microvolt.
long long key_of(double at_volts) {
    return std::llround(at_volts * 1e6);
}

double square(double x) {
    return x * x;
}

/// What the notes' own uncertainty makes of a line's slope and of the line at some voltage.
struct line_uncertainty {
    line_uncertainty(std::span<const tracked_note> notes, double centre)
        : centre_{centre}, count_{static_cast<double>(notes.size())} {
        for (const auto& n : notes) {
            sum_ += square(n.at_volts - centre);
            mean_square_ += square(n.u_cents) / count_;
        }
    }
    [[nodiscard]] double of_slope() const { return std::sqrt(mean_square_ / sum_); }
    [[nodiscard]] double at(double at_volts) const {
        return std::sqrt(mean_square_ * (1.0 / count_ + square(at_volts - centre_) / sum_));
    }

private:
    double centre_;
    double count_;
    double sum_{0.0};
    double mean_square_{0.0};
};

void add_straightness(unit_traits& out, std::span<const tracked_note> notes) {
    struct level {
        double at_volts{0.0}, sum{0.0}, u_squares{0.0}, count{0.0};
    };
    std::map<long long, level> levels;
    for (const auto& n : notes) {
        auto& l = levels[key_of(n.at_volts)];
        l.at_volts = n.at_volts;
        l.sum += n.error_cents - out.line_at(n.at_volts);
        l.u_squares += square(n.u_cents);
        l.count += 1.0;
    }
    for (const auto& [ignored, l] : levels) {
        const double departure = l.sum / l.count;
        if (std::abs(departure) < std::abs(out.straightness.cents)) continue;
        out.straightness = {departure, std::sqrt(l.u_squares) / l.count};
        out.straightness_at_volts = l.at_volts;
    }
    out.straightness.cents = std::abs(out.straightness.cents);
}

// A warming module drifts while the stair goes up and down again: what grows with the notes between
// is drift, what stays where there are none is hysteresis.
void add_up_and_down(unit_traits& out, std::span<const tracked_note> notes) {
    std::vector<double> between;
    std::vector<double> difference;
    double u_squares = 0.0;
    for (std::size_t a = 0; a < notes.size(); ++a) {
        if (!notes[a].upward) continue;
        for (std::size_t z = 0; z < notes.size(); ++z) {
            if (notes[z].upward || key_of(notes[z].at_volts) != key_of(notes[a].at_volts)) continue;
            between.push_back(std::abs(static_cast<double>(z) - static_cast<double>(a)));
            difference.push_back(notes[z].error_cents - notes[a].error_cents);
            u_squares += square(notes[a].u_cents) + square(notes[z].u_cents);
        }
    }
    if (between.size() < 4) return;
    const auto fit = analysis::fit_line(between, difference);
    if (!fit) return;
    const double u = std::sqrt(u_squares / static_cast<double>(between.size()));
    const double from_scatter = fit->residual_sd > 0.0 ? fit->u_intercept / fit->residual_sd : 0.0;
    out.hysteresis = told_cents{fit->intercept, std::max(fit->u_intercept, from_scatter * u)};
    const double freedom = static_cast<double>(fit->degrees_of_freedom);
    const double sd = fit->residual_sd / std::sqrt(2.0);
    // The relative uncertainty of a standard deviation (JCGM 100:2008, E.4.3).
    out.scatter = told_cents{sd, sd / std::sqrt(2.0 * freedom)};
}

}  // namespace

analysis::outcome<unit_traits> traits_of(std::span<const tracked_note> notes,
                                         double volts_per_octave, double reference_volts) {
    std::vector<double> x;
    std::vector<double> y;
    for (const auto& n : notes) {
        x.push_back(n.at_volts);
        y.push_back(n.error_cents);
    }
    const auto line = analysis::fit_line(x, y);
    if (!line) return analysis::refuse(line.error());
    unit_traits out;
    out.slope_cents_per_volt = line->slope;
    out.zero_cents = line->intercept;
    const line_uncertainty u{notes, line->centre_x};
    const double per_octave = std::abs(volts_per_octave);
    out.gain = {line->slope * volts_per_octave, u.of_slope() * per_octave};
    out.offset = {line->at(reference_volts), u.at(reference_volts)};
    add_straightness(out, notes);
    add_up_and_down(out, notes);
    return out;
}

}  // namespace cvrig
