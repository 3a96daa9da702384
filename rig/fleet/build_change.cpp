#include "rig/fleet/build_change.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <optional>
#include <utility>

#include "analysis/uncertainty.hpp"

namespace cvrig {

namespace {

/// One unit with two builds.
struct pair_of_records {
    const tracking_record* older{nullptr};
    const tracking_record* newer{nullptr};
};

using pairs_by_unit = std::map<std::string, pair_of_records>;

/// The latest records of both builds for each unit that has both under such constants.
pairs_by_unit pairs_under(bool own, const fleet_selection& s, const std::string& from,
                          const std::string& to) {
    pairs_by_unit all;
    for (const auto& r : s.of_choice) {
        if ((r.in_force == constants_in_force::own) != own) continue;
        auto& pair = all[unit_key(r.unit)];
        if (r.build == from) pair.older = &r;
        if (r.build == to) pair.newer = &r;
    }
    std::erase_if(all, [](const auto& one) {
        return one.second.older == nullptr || one.second.newer == nullptr;
    });
    return all;
}

struct unit_shift {
    std::string unit;
    std::array<double, 2> cents{};  ///< at the low and the high end
    double u_cents{0.0};
    bool reckoned{false};
};

double u_of_line(const unit_traits& t) {
    return t.offset.u_cents;
}

std::optional<unit_shift> shift_of(const pair_of_records& p, const fleet_selection& s) {
    auto newer = p.newer->notes;
    const bool reckoned = p.older->constants && p.newer->constants;
    if (reckoned)
        newer = notes_after(newer, change_between(*p.newer->constants, *p.older->constants),
                            s.volts_per_octave);
    const auto before = traits_of(p.older->notes, s.volts_per_octave, s.high_volts);
    const auto after = traits_of(newer, s.volts_per_octave, s.high_volts);
    if (!before || !after) return std::nullopt;
    unit_shift out{.unit = p.newer->unit, .cents = {}, .u_cents = 0.0, .reckoned = reckoned};
    out.cents = {after->line_at(s.low_volts) - before->line_at(s.low_volts),
                 after->line_at(s.high_volts) - before->line_at(s.high_volts)};
    out.u_cents = std::hypot(u_of_line(*before), u_of_line(*after));
    // On one bench its voltages are off by the same both times.
    if (p.older->bench != p.newer->bench)
        out.u_cents = std::hypot(out.u_cents, p.older->u_common_cents, p.newer->u_common_cents);
    return out;
}

std::vector<unit_shift> shifts_of(const pairs_by_unit& pairs, const fleet_selection& s) {
    std::vector<unit_shift> out;
    for (const auto& [ignored, pair] : pairs)
        if (auto shift = shift_of(pair, s)) out.push_back(std::move(*shift));
    return out;
}

/// Mean and Student's interval; at least two units.
shift_at over_units(const std::vector<unit_shift>& all, std::size_t end, double at_volts) {
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
    const double half = student ? *student * u_mean : INFINITY;
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

void judge(build_change& c, double limit, double k) {
    if (std::ranges::any_of(c.ends, [&](const shift_at& e) { return is_beyond(e, limit); })) {
        c.says = build_change::verdict::calibrate;
    } else if (c.moved > 0) {
        c.says = build_change::verdict::some;
    } else if (std::ranges::all_of(c.ends,
                                   [&](const shift_at& e) { return is_within(e, limit, k); })) {
        c.says = build_change::verdict::none;
    } else {
        c.why = "The shift lies closer to the limit than its confidence interval.";
    }
}

build_change change_of(const fleet_selection& s, const std::string& from, const std::string& to,
                       double limit, double k) {
    build_change c;
    c.from = from;
    c.to = to;
    auto shifts = shifts_of(pairs_under(true, s, from, to), s);
    auto of_default = shifts_of(pairs_under(false, s, from, to), s);
    // Calibrated units are the ones whose users might have to do it again.
    c.under_own = shifts.size() >= 2 || shifts.size() > of_default.size();
    if (!c.under_own) shifts = std::move(of_default);
    for (const auto& one : shifts) c.units.push_back(one.unit);
    if (shifts.size() < 2) {
        c.why = shifts.empty() ? "No unit was measured with both under like constants."
                               : "Only one unit was measured with both under like constants.";
        return c;
    }
    c.reckoned = std::ranges::all_of(shifts, &unit_shift::reckoned);
    c.ends = {over_units(shifts, 0, s.low_volts), over_units(shifts, 1, s.high_volts)};
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
