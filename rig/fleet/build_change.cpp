#include "rig/fleet/build_change.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <optional>
#include <utility>

#include "analysis/uncertainty.hpp"
#include "rig/expectations/dimension.hpp"
#include "rig/fleet/build_pairs.hpp"

namespace cvrig {

namespace {

struct unit_shift {
    std::string unit;
    std::array<double, 2> cents{};  ///< at the low and the high end
    double u_cents{0.0};
    double u_benches_cents{0.0};  ///< standard, of what two benches differ by; part of the above
    bool reckoned{false};
};

double u_of_line(const unit_traits& t) {
    return t.offset.u_cents;
}

std::optional<unit_shift> shift_of(const record_pair& p, const fleet_selection& s) {
    auto newer = p.newer->notes;
    if (p.is_reckoned())
        newer = notes_after(newer, change_between(*p.newer->constants, *p.older->constants),
                            s.volts_per_octave);
    const auto before = traits_of(p.older->notes, s.volts_per_octave, s.high_volts);
    const auto after = traits_of(newer, s.volts_per_octave, s.high_volts);
    if (!before || !after) return std::nullopt;
    unit_shift out{.unit = p.newer->unit, .reckoned = p.is_reckoned()};
    out.cents = {after->line_at(s.low_volts) - before->line_at(s.low_volts),
                 after->line_at(s.high_volts) - before->line_at(s.high_volts)};
    if (!p.is_of_one_bench())
        out.u_benches_cents = std::hypot(p.older->u_common_cents, p.newer->u_common_cents);
    out.u_cents = std::hypot(u_of_line(*before), u_of_line(*after), out.u_benches_cents);
    return out;
}

std::vector<unit_shift> shifts_of(const build_pairs& pairs, const fleet_selection& s) {
    std::vector<unit_shift> out;
    for (const auto& pair : pairs.all)
        if (auto shift = shift_of(pair, s)) out.push_back(std::move(*shift));
    return out;
}

/// Of the mean: what the benches differ by is the same for all units, so it does not become less by taking more
/// of them.
double u_of_benches(const std::vector<unit_shift>& all) {
    double sum = 0.0;
    for (const auto& s : all) sum += s.u_benches_cents;
    return sum / static_cast<double>(all.size());
}

/// Mean and Student's interval, on either side wider by `benches_cents`; at least two units.
shift_at over_units(const std::vector<unit_shift>& all, std::size_t end, double at_volts,
                    double benches_cents) {
    const double n = static_cast<double>(all.size());
    shift_at out;
    out.at_volts = at_volts;
    out.least_cents = out.most_cents = all.front().cents[end];
    for (const auto& s : all) {
        out.mean_cents += s.cents[end] / n;
        out.least_cents = std::min(out.least_cents, s.cents[end]);
        out.most_cents = std::max(out.most_cents, s.cents[end]);
        out.u_unit_cents = std::max(out.u_unit_cents, s.u_cents);
    }
    double squares = 0.0;
    for (const auto& s : all)
        squares += (s.cents[end] - out.mean_cents) * (s.cents[end] - out.mean_cents);
    const double u_mean = std::sqrt(squares / (n - 1.0) / n);
    const auto student = analysis::coverage_factor(0.95, n - 1.0);
    const double half = student ? *student * u_mean + benches_cents : INFINITY;
    out.low_cents = out.mean_cents - half;
    out.high_cents = out.mean_cents + half;
    return out;
}

std::size_t surely_moved(const std::vector<unit_shift>& all, double limit, double k) {
    return static_cast<std::size_t>(std::ranges::count_if(all, [&](const unit_shift& s) {
        return std::ranges::any_of(s.cents,
                                   [&](double c) { return std::abs(c) - k * s.u_cents > limit; });
    }));
}

bool is_beyond(const shift_at& end, double limit) {
    return end.low_cents > limit || end.high_cents < -limit;
}

bool is_within(const shift_at& end, double limit, double k) {
    const double unit = std::max(std::abs(end.least_cents), std::abs(end.most_cents));
    return std::max(std::abs(end.low_cents), std::abs(end.high_cents)) <= limit &&
           unit + k * end.u_unit_cents <= limit;
}

/// Whether one could tell if the benches did not differ.
bool is_for_benches(const build_change& c, double limit) {
    auto ends = c.ends;
    for (auto& e : ends) {
        e.low_cents += c.benches_cents;
        e.high_cents -= c.benches_cents;
    }
    return c.benches_cents > 0.0 &&
           (std::ranges::any_of(ends, [&](const shift_at& e) { return is_beyond(e, limit); }) ||
            std::ranges::all_of(ends, [&](const shift_at& e) { return is_within(e, limit, 0.0); }));
}

void judge(build_change& c, double limit, double k) {
    if (std::ranges::any_of(c.ends, [&](const shift_at& e) { return is_beyond(e, limit); })) {
        c.says = build_change::verdict::calibrate;
    } else if (c.moved > 0) {
        c.says = build_change::verdict::some;
    } else if (std::ranges::all_of(c.ends,
                                   [&](const shift_at& e) { return is_within(e, limit, k); })) {
        c.says = build_change::verdict::none;
    } else {
        c.why = is_for_benches(c, limit)
                    ? fmt::format(
                          "The builds were measured on different benches, which may "
                          "themselves differ by up to {}; measure both on one.",
                          show(c.benches_cents, dimension::cents, 2))
                    : "The shift lies closer to the limit than its confidence interval.";
    }
}

std::string why_too_few(const build_change& c) {
    const std::string found = c.units.empty()
                                  ? "No unit was measured with both under like constants."
                                  : "Only one unit was measured with both under like constants.";
    const auto n = c.calibrated_between.size();
    if (n == 0) return found;
    return fmt::format(
        "{} {} calibrated between the two, and no console told the constants: what "
        "the build moved cannot be seen in {}.",
        n, n == 1 ? "unit was" : "units were", n == 1 ? "it" : "them");
}

build_change change_of(const fleet_selection& s, const std::string& from, const std::string& to,
                       double limit, double k) {
    build_change c;
    c.from = from;
    c.to = to;
    auto pairs = pairs_under(true, s, from, to);
    auto shifts = shifts_of(pairs, s);
    auto other_pairs = pairs_under(false, s, from, to);
    auto of_default = shifts_of(other_pairs, s);
    // Calibrated units are the ones whose users might have to do it again.
    c.under_own = shifts.size() >= 2 || shifts.size() > of_default.size();
    if (!c.under_own) shifts = std::move(of_default);
    c.calibrated_between = std::move(pairs.calibrated_between);
    std::ranges::move(other_pairs.calibrated_between, std::back_inserter(c.calibrated_between));
    for (const auto& one : shifts) c.units.push_back(one.unit);
    // Who counts under other constants is not left out.
    std::erase_if(c.calibrated_between,
                  [&](const auto& unit) { return std::ranges::count(c.units, unit) > 0; });
    if (shifts.size() < 2) {
        c.why = why_too_few(c);
        return c;
    }
    c.reckoned = std::ranges::all_of(shifts, &unit_shift::reckoned);
    c.benches_cents = k * u_of_benches(shifts);
    c.ends = {over_units(shifts, 0, s.low_volts, c.benches_cents),
              over_units(shifts, 1, s.high_volts, c.benches_cents)};
    c.moved = surely_moved(shifts, limit, k);
    judge(c, limit, k);
    return c;
}

}  // namespace

std::vector<build_change> find_build_changes(const fleet_selection& s, double limit_cents,
                                             double coverage_factor) {
    std::vector<build_change> out;
    for (std::size_t i = 1; i < s.builds.size(); ++i)
        out.push_back(change_of(s, s.builds[i - 1], s.builds[i], limit_cents, coverage_factor));
    return out;
}

}  // namespace cvrig
