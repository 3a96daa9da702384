#include "rig/fleet/best_default.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <set>
#include <utility>

#include "analysis/minimax_fit.hpp"

namespace cvrig {

namespace {

struct heard_point {
    double heard_volts, demanded_volts;
    std::size_t unit;
};

/// Twice the area of a triangle; above 0 if it turns left.
double turn_of(const heard_point& a, const heard_point& b, const heard_point& c) {
    return (b.heard_volts - a.heard_volts) * (c.demanded_volts - a.demanded_volts) -
           (c.heard_volts - a.heard_volts) * (b.demanded_volts - a.demanded_volts);
}

/// The corners of the points' convex hull (monotone chain): no other point is ever furthest from a
/// straight line, and a fleet has tens of thousands.
std::vector<heard_point> corners_of(std::vector<heard_point> all) {
    std::ranges::sort(all, {}, [](const heard_point& p) {
        return std::pair{p.heard_volts, p.demanded_volts};
    });
    std::vector<heard_point> hull;
    const auto add_chain = [&](auto first, auto last) {
        const auto begin = hull.size();
        for (; first != last; ++first) {
            while (hull.size() >= begin + 2 &&
                   turn_of(hull[hull.size() - 2], hull.back(), *first) <= 0.0)
                hull.pop_back();
            hull.push_back(*first);
        }
    };
    add_chain(all.begin(), all.end());
    add_chain(all.rbegin(), all.rend());
    return hull;
}

std::vector<heard_point> outermost(std::span<const fleet_unit> units, double volts_per_octave) {
    std::vector<heard_point> all;
    for (std::size_t i = 0; i < units.size(); ++i)
        for (const auto& n : units[i].notes)
            all.push_back({heard_volts(n, volts_per_octave), n.at_volts, i});
    return corners_of(std::move(all));
}

/// How far a change moves the pitch that was right, in cents at some voltage.
double move_at(const constants_change& change, double at_volts, double volts_per_octave) {
    return change.error_after(at_volts, 0.0, volts_per_octave);
}

kept_count count_kept(double limit, std::span<const keeping> all) {
    kept_count out;
    out.limit_cents = limit;
    for (const auto k : all) {
        if (k == keeping::surely_within) ++out.within;
        if (k == keeping::surely_outside) ++out.outside;
        if (k == keeping::undecided) ++out.undecided;
    }
    return out;
}

/// What becomes of the units, each with a change of its own.
void judge_units(std::span<const fleet_unit> units, std::span<const constants_change> changes,
                 std::span<const double> limits, double volts_per_octave, double k,
                 std::vector<worst_note>& worst, std::vector<kept_count>& kept) {
    for (std::size_t i = 0; i < units.size(); ++i)
        worst.push_back(worst_of(units[i], changes[i], volts_per_octave));
    for (const double limit : limits) {
        std::vector<keeping> all;
        for (std::size_t i = 0; i < units.size(); ++i)
            all.push_back(keeps_to(limit, units[i], changes[i], volts_per_octave, k));
        kept.push_back(count_kept(limit, all));
    }
}

class comparison {
public:
    comparison(const fleet_selection& s, std::span<const double> limits, double k)
        : s_{s}, limits_{limits}, k_{k} {}

    /// `left_out[i]` is what the others choose without unit i.
    [[nodiscard]] default_choice of(default_kind kind, const constants_change& change,
                                    const std::vector<constants_change>& left_out) const {
        default_choice c;
        c.kind = kind;
        c.change = change;
        if (s_.default_constants) c.constants = change.applied_to(*s_.default_constants);
        const std::vector<constants_change> same(s_.units.size(), change);
        judge(same, c.worst, c.kept);
        judge(left_out, c.worst_unseen, c.kept_unseen);
        for (const auto& other : left_out) {
            const auto moved = [&](double at) {
                return std::abs(move_at(other, at, s_.volts_per_octave) -
                                move_at(change, at, s_.volts_per_octave));
            };
            c.moves_low_cents = std::max(c.moves_low_cents, moved(s_.low_volts));
            c.moves_high_cents = std::max(c.moves_high_cents, moved(s_.high_volts));
        }
        return c;
    }

private:
    void judge(const std::vector<constants_change>& changes, std::vector<worst_note>& worst,
               std::vector<kept_count>& kept) const {
        if (changes.empty()) return;
        judge_units(s_.units, changes, limits_, s_.volts_per_octave, k_, worst, kept);
    }

    const fleet_selection& s_;
    std::span<const double> limits_;
    double k_;
};

/// What `choose` makes of all units but one, for each of them.
template <class Choose>
analysis::outcome<std::vector<constants_change>> leaving_one_out(const fleet_selection& s,
                                                                 const Choose& choose) {
    std::vector<constants_change> out;
    if (s.units.size() < 3) return out;
    for (std::size_t i = 0; i < s.units.size(); ++i) {
        auto others = s.units;
        others.erase(others.begin() + static_cast<std::ptrdiff_t>(i));
        const analysis::outcome<constants_change> change = choose(others);
        if (!change) return analysis::refuse(change.error());
        out.push_back(*change);
    }
    return out;
}

}  // namespace

double median_of(std::vector<double> all) {
    assert(!all.empty());
    std::ranges::sort(all);
    const auto middle = all.size() / 2;
    return all.size() % 2 == 1 ? all[middle] : 0.5 * (all[middle - 1] + all[middle]);
}

std::size_t default_choice::worst_unit() const noexcept {
    const auto far = std::ranges::max_element(
        worst, {}, [](const worst_note& w) { return std::abs(w.error_cents); });
    return static_cast<std::size_t>(far - worst.begin());
}

double default_choice::worst_cents() const noexcept {
    return worst.empty() ? 0.0 : std::abs(worst[worst_unit()].error_cents);
}

double default_choice::median_cents() const noexcept {
    std::vector<double> all;
    for (const auto& w : worst) all.push_back(std::abs(w.error_cents));
    return median_of(std::move(all));
}

worst_note worst_of(const fleet_unit& unit, const constants_change& change,
                    double volts_per_octave) {
    worst_note out;
    for (const auto& n : unit.notes) {
        const double error = change.error_after(n.at_volts, n.error_cents, volts_per_octave);
        if (std::abs(error) < std::abs(out.error_cents)) continue;
        out = {error, std::hypot(n.u_cents, unit.u_common_cents), n.at_volts};
    }
    return out;
}

keeping keeps_to(double limit_cents, const fleet_unit& unit, const constants_change& change,
                 double volts_per_octave, double coverage_factor) {
    bool is_within = true;
    for (const auto& n : unit.notes) {
        const double error =
            std::abs(change.error_after(n.at_volts, n.error_cents, volts_per_octave));
        const double expanded = coverage_factor * std::hypot(n.u_cents, unit.u_common_cents);
        if (error - expanded > limit_cents) return keeping::surely_outside;
        is_within = is_within && error + expanded <= limit_cents;
    }
    return is_within ? keeping::surely_within : keeping::undecided;
}

analysis::outcome<minimax_default_found> minimax_default(std::span<const fleet_unit> units,
                                                         double volts_per_octave) {
    const auto points = outermost(units, volts_per_octave);
    std::vector<double> x;
    std::vector<double> y;
    for (const auto& p : points) {
        x.push_back(p.heard_volts);
        y.push_back(p.demanded_volts);
    }
    const auto fit = analysis::minimax_line(x, y);
    if (!fit) return analysis::refuse(fit.error());
    std::set<std::size_t> held_by;
    for (const auto& touching : fit->touching)
        if (touching.level == 0) held_by.insert(points[touching.index].unit);
    return minimax_default_found{{fit->intercept, fit->slope}, {held_by.begin(), held_by.end()}};
}

constants_change median_default(std::span<const fleet_unit> units, double low_volts,
                                double high_volts, double volts_per_octave) {
    std::vector<double> low;
    std::vector<double> high;
    for (const auto& u : units) {
        low.push_back(low_volts + u.traits.line_at(low_volts) * volts_per_octave / 1200.0);
        high.push_back(high_volts + u.traits.line_at(high_volts) * volts_per_octave / 1200.0);
    }
    const double heard_low = median_of(std::move(low));
    const double gain = (high_volts - low_volts) / (median_of(std::move(high)) - heard_low);
    return {low_volts - gain * heard_low, gain};
}

analysis::outcome<std::vector<default_choice>> compare_defaults(
    const fleet_selection& s, std::span<const double> limits_cents, double coverage_factor) {
    if (s.units.size() < 2) return analysis::refuse(analysis::refusal::too_short);
    const double per_octave = s.volts_per_octave;
    const auto minimax = minimax_default(s.units, per_octave);
    if (!minimax) return analysis::refuse(minimax.error());
    const auto by_median = [&](std::span<const fleet_unit> units) {
        return median_default(units, s.low_volts, s.high_volts, per_octave);
    };
    const auto without = leaving_one_out(
        s, [&](const std::vector<fleet_unit>& others) -> analysis::outcome<constants_change> {
            const auto found = minimax_default(others, per_octave);
            if (!found) return analysis::refuse(found.error());
            return found->change;
        });
    if (!without) return analysis::refuse(without.error());
    const auto medians = leaving_one_out(s, [&](const std::vector<fleet_unit>& others) {
        return analysis::outcome<constants_change>{by_median(others)};
    });
    const comparison compare{s, limits_cents, coverage_factor};
    // Leaving one out does not move the default in force. Whether it was chosen from one of these units nobody
    // here knows; the words say that it matters.
    std::vector<default_choice> out{
        compare.of(default_kind::now, {}, std::vector<constants_change>(s.units.size())),
        compare.of(default_kind::minimax, minimax->change, *without),
        compare.of(default_kind::median, by_median(s.units), *medians)};
    for (const auto i : minimax->held_by) out[1].held_by.push_back(s.units[i].name);
    return out;
}

}  // namespace cvrig
