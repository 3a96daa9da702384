#include "rig/fleet/outliers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <set>
#include <utility>

#include "rig/fleet/best_default.hpp"

namespace cvrig {

namespace {

constexpr std::size_t fewest_units = 8;
constexpr double least_away_cents = 0.1;
constexpr double mad_to_sd = 1.4826;  // of a normal distribution: 1 / 0.6745

constexpr std::array all_traits{trait::gain, trait::offset, trait::straightness, trait::hysteresis,
                                trait::scatter};

bool only_upwards(trait t) {
    return t == trait::straightness || t == trait::scatter;
}

/// How much of a bench's common error may be in a difference of two units on two benches.
double u_of_benches(const fleet_selection& s, const fleet_unit& u, trait t) {
    const bool one_bench = std::ranges::all_of(
        s.units, [&](const fleet_unit& other) { return other.bench == s.units.front().bench; });
    if (one_bench || t == trait::hysteresis || t == trait::scatter) return 0.0;
    // As in the tracking check: voltages that are each off by u tilt the line by the two ends'
    // difference at most.
    const double octaves = (s.high_volts - s.low_volts) / std::abs(s.volts_per_octave);
    return t == trait::gain ? std::sqrt(2.0) * u.u_common_cents / octaves : u.u_common_cents;
}

std::optional<told_cents> trait_of(const fleet_unit& u, trait t) {
    switch (t) {
        case trait::gain:
            return u.traits.gain;
        case trait::offset:
            return u.traits.offset;
        case trait::straightness:
            return u.traits.straightness;
        case trait::hysteresis:
            return u.traits.hysteresis;
        case trait::scatter:
            return u.traits.scatter;
    }
    return std::nullopt;
}

double threshold_for(std::size_t units) {
    return 4.1 + 28.0 / static_cast<double>(units);
}

struct reading_of_unit {
    const fleet_unit* unit;
    told_cents told;
};

class fleet_spread {
public:
    fleet_spread(const fleet_selection& s, trait t) : what_{t} {
        for (const auto& u : s.units) {
            auto told = trait_of(u, t);
            if (!told) continue;
            told->u_cents = std::hypot(told->u_cents, u_of_benches(s, u, t));
            readings_.push_back({&u, *told});
        }
        if (readings_.empty()) return;
        std::vector<double> all;
        for (const auto& r : readings_) all.push_back(r.told.cents);
        spread_ = {.what = t,
                   .units = all.size(),
                   .median_cents = median_of(all),
                   .robust_sd_cents = 0.0,
                   .lowest_cents = std::ranges::min(all),
                   .highest_cents = std::ranges::max(all)};
        for (auto& x : all) x = std::abs(x - spread_.median_cents);
        spread_.robust_sd_cents = mad_to_sd * median_of(std::move(all));
    }

    [[nodiscard]] bool is_empty() const { return readings_.empty(); }
    [[nodiscard]] const spread& summary() const { return spread_; }

    void add_outliers(std::vector<outlier>& out) const {
        if (readings_.size() < fewest_units) return;
        for (const auto& r : readings_) {
            const double away = r.told.cents - spread_.median_cents;
            if (only_upwards(what_) && away < 0.0) continue;
            if (std::abs(away) < least_away_cents) continue;
            const double unit_of_score = std::max(spread_.robust_sd_cents, u_if_ordinary(r.told));
            if (!(std::abs(away) > threshold_for(readings_.size()) * unit_of_score)) continue;
            out.push_back({.unit = r.unit->name,
                           .what = what_,
                           .cents = r.told.cents,
                           .median_cents = spread_.median_cents,
                           .u_cents = r.told.u_cents,
                           .score = unit_of_score > 0.0 ? std::abs(away) / unit_of_score : INFINITY,
                           .at_volts = r.unit->traits.straightness_at_volts,
                           .points_to = {}});
        }
    }

private:
    /// The uncertainty that the reading would have if the unit were like the median one: that of a
    /// scatter grows with the scatter.
    [[nodiscard]] double u_if_ordinary(const told_cents& told) const {
        return what_ == trait::scatter && told.cents > 0.0
                   ? told.u_cents * spread_.median_cents / told.cents
                   : told.u_cents;
    }

    trait what_;
    spread spread_;
    std::vector<reading_of_unit> readings_;
};

/// What bends a line: it matters where.
std::string bend_points_to(const outlier& o, const fleet_selection& s) {
    const double span = s.high_volts - s.low_volts;
    const bool at_an_end =
        o.at_volts > s.high_volts - 0.1 * span || o.at_volts < s.low_volts + 0.1 * span;
    return at_an_end ? "clipping at the end of the converter's range, or a bend of it"
                     : "a knee of the converter's characteristic";
}

/// Common practice, no source: which part of a pitch input makes which error.
std::string points_to(const outlier& o, const fleet_selection& s) {
    switch (o.what) {
        case trait::gain:
            return "the input's divider, the impedance that feeds it, or the reference voltage";
        case trait::offset:
            return "the op-amp's offset or bias, or a ground that is not at 0 V";
        case trait::straightness:
            return bend_points_to(o, s);
        case trait::hysteresis:
            return "the converter itself, or a capacitor whose dielectric remembers";
        case trait::scatter:
            return "noise of the reference or the supply, or a loose contact";
    }
    return {};
}

/// A cause is named only where one trait is out; a bend tilts and shifts the best line with it.
void add_causes(std::vector<outlier>& all, const fleet_selection& s) {
    for (auto& o : all) {
        std::set<trait> out;
        for (const auto& other : all)
            if (other.unit == o.unit) out.insert(other.what);
        const bool bends = out.contains(trait::straightness);
        if (bends) {
            out.erase(trait::gain);
            out.erase(trait::offset);
        }
        const bool follows = bends && (o.what == trait::gain || o.what == trait::offset);
        if (follows)
            o.points_to = "this may follow from its bend";
        else if (out.size() == 1)
            o.points_to = points_to(o, s);
    }
}

}  // namespace

std::string_view in_words(trait t) noexcept {
    switch (t) {
        case trait::gain:
            return "gain";
        case trait::offset:
            return "offset";
        case trait::straightness:
            return "straightness";
        case trait::hysteresis:
            return "hysteresis";
        case trait::scatter:
            return "scatter";
    }
    return "gain";
}

outliers_found find_outliers(const fleet_selection& s) {
    outliers_found out;
    for (const auto t : all_traits) {
        const fleet_spread of_trait{s, t};
        if (of_trait.is_empty()) continue;
        out.spreads.push_back(of_trait.summary());
        of_trait.add_outliers(out.outliers);
    }
    if (s.units.size() < fewest_units) {
        out.why_not = fmt::format(
            "Among {} units none can be called odd: with fewer than {} even the median absolute "
            "deviation is a matter of chance.",
            s.units.size(), fewest_units);
        return out;
    }
    out.threshold = threshold_for(s.units.size());
    const auto place = [&](const outlier& o) {
        return std::ranges::find(s.units, o.unit, &fleet_unit::name) - s.units.begin();
    };
    std::ranges::stable_sort(out.outliers, {}, place);
    add_causes(out.outliers, s);
    return out;
}

}  // namespace cvrig
