#include "rig/fleet/unseen.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "analysis/normality.hpp"
#include "analysis/proportion.hpp"
#include "analysis/spread.hpp"
#include "analysis/tolerance.hpp"
#include "rig/expectations/dimension.hpp"

namespace cvrig {

namespace {

constexpr double confidence = 0.95;
constexpr double covered_share = 0.90;
constexpr double least_probability = 0.05;
constexpr std::size_t fewest_units = 8;

void add_moments(normal_bound& out, std::span<const double> errors) {
    const double n = static_cast<double>(errors.size());
    for (const double e : errors) out.mean_cents += e / n;
    double squares = 0.0;
    for (const double e : errors) squares += (e - out.mean_cents) * (e - out.mean_cents);
    out.sd_cents = errors.size() > 1 ? std::sqrt(squares / (n - 1.0)) : 0.0;
}

/// Whether normal theory may speak, and why not.
void add_normality(normal_bound& out, std::span<const double> errors) {
    if (errors.size() < fewest_units) {
        out.why_not = fmt::format("Normal theory is not asked below {} units, and here are {}.",
                                  fewest_units, errors.size());
        return;
    }
    const auto test = analysis::measure_normality(errors);
    if (!test) {
        out.why_not =
            fmt::format("Whether the errors are normally distributed could not be told: {}.",
                        analysis::explain(test.error()));
        return;
    }
    out.anderson_darling = test->statistic;
    out.p = test->probability;
    out.speaks = test->probability >= least_probability;
    if (!out.speaks)
        out.why_not = fmt::format(
            "The units' errors at {} are not normally distributed (Anderson-Darling A² = {:.2f}, p "
            "= "
            "{:.1g}), and normal theory would mislead.",
            show(out.at_volts, dimension::volts), test->statistic, test->probability);
}

double largest_common(const fleet_selection& s) {
    double u = 0.0;
    for (const auto& unit : s.units) u = std::max(u, unit.u_common_cents);
    return u;
}

void silence(normal_bound& one, const normal_bound& other) {
    one.speaks = false;
    one.bounds.clear();
    one.why_not = fmt::format("Normal theory is refused at {}, so it is not asked here either.",
                              show(other.at_volts, dimension::volts));
}

normal_bound bound_at(double at_volts, const fleet_selection& s,
                      std::span<const default_choice> defaults) {
    std::vector<double> errors;
    for (const auto& u : s.units) errors.push_back(u.traits.line_at(at_volts));
    normal_bound out;
    out.at_volts = at_volts;
    out.units = errors.size();
    add_moments(out, errors);
    add_normality(out, errors);
    if (!out.speaks) return out;
    const auto k = analysis::two_sided_tolerance_factor(static_cast<unsigned>(errors.size()),
                                                        covered_share, confidence);
    if (!k) {
        out.speaks = false;
        out.why_not = "The tolerance factor could not be computed.";
        return out;
    }
    // What the bench adds to all units alike does not scatter, but it may be there.
    constexpr double normal_factor = 1.959963984540054;
    const double bench = normal_factor * largest_common(s);
    for (const auto& d : defaults) {
        const double mean = d.change.error_after(at_volts, out.mean_cents, s.volts_per_octave);
        out.bounds.push_back(
            {d.kind, std::abs(mean) + *k * out.sd_cents * std::abs(d.change.gain) + bench});
    }
    return out;
}

}  // namespace

std::vector<unseen_share> unseen_shares(std::span<const default_choice> defaults) {
    std::vector<unseen_share> out;
    for (const auto& d : defaults)
        for (const auto& c : d.kept_unseen) {
            const auto all = static_cast<unsigned>(c.all());
            const auto low =
                analysis::clopper_pearson(static_cast<unsigned>(c.within), all, confidence);
            const auto high =
                analysis::clopper_pearson(all - static_cast<unsigned>(c.outside), all, confidence);
            if (low && high) out.push_back({d.kind, c, low->lower, high->upper});
        }
    return out;
}

std::optional<best_unseen_share> best_of(std::span<const unseen_share> shares, double limit_cents) {
    const auto is_asked = [&](const unseen_share& s) {
        return s.counted.limit_cents == limit_cents;
    };
    const auto of = static_cast<std::size_t>(std::ranges::count_if(shares, is_asked));
    std::optional<best_unseen_share> best;
    for (const auto& s : shares) {
        if (!is_asked(s)) continue;
        const auto lower = analysis::share_at_least(
            static_cast<unsigned>(s.counted.within), static_cast<unsigned>(s.counted.all()),
            1.0 - (1.0 - confidence) / static_cast<double>(of));
        if (lower && (!best || *lower > best->lower)) best = {s.kind, *lower, of};
    }
    return best;
}

std::vector<unseen_worst> unseen_worsts(std::span<const default_choice> defaults) {
    std::vector<unseen_worst> out;
    for (const auto& d : defaults) {
        const auto furthest = std::ranges::max_element(
            d.worst_unseen, {}, [](const worst_note& w) { return std::abs(w.error_cents); });
        if (furthest == d.worst_unseen.end()) continue;
        const auto share = analysis::share_within_extremes(
            static_cast<unsigned>(d.worst_unseen.size()), confidence, analysis::sample_ends::one);
        if (share)
            out.push_back({d.kind, std::abs(furthest->error_cents), furthest->u_cents, *share});
    }
    return out;
}

std::vector<normal_bound> normal_bounds(const fleet_selection& s,
                                        std::span<const default_choice> defaults) {
    std::vector<normal_bound> both{bound_at(s.low_volts, s, defaults),
                                   bound_at(s.high_volts, s, defaults)};
    // Units of two sorts are two sorts everywhere, also where that does not show.
    for (std::size_t i = 0; i < both.size(); ++i)
        if (both[i].speaks && !both[1 - i].speaks) silence(both[i], both[1 - i]);
    return both;
}

}  // namespace cvrig
