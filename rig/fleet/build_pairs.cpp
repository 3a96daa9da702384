#include "rig/fleet/build_pairs.hpp"

#include <algorithm>
#include <functional>
#include <map>
#include <optional>
#include <utility>

namespace cvrig {

namespace {

/// The records of a calibration have the time of one run.
enum class moment { before_calibration, run, after_calibration };

using point_in_time = std::pair<std::string, moment>;

point_in_time time_of(const tracking_record& r) {
    if (r.occasion == "before calibration") return {r.started, moment::before_calibration};
    if (r.occasion == "after calibration") return {r.started, moment::after_calibration};
    return {r.started, moment::run};
}

bool is_calibrated_between(const record_pair& p, const fleet_selection& s) {
    // Somebody may measure an older build later than a newer one.
    const auto older = time_of(*p.older);
    const auto newer = time_of(*p.newer);
    const auto& first = std::min(older, newer);
    const auto& last = std::max(older, newer);
    const auto unit = unit_key(p.newer->unit);
    return std::ranges::any_of(s.calibrations, [&](const unit_calibration& c) {
        const point_in_time at{c.started, moment::after_calibration};
        return c.unit == unit && at > first && at <= last;
    });
}

bool is_default(const tracking_record& r) {
    return r.in_force == constants_in_force::by_default;
}

bool can_be_compared(const record_pair& p, const fleet_selection& s) {
    if (p.is_reckoned() || (is_default(*p.older) && is_default(*p.newer))) return true;
    return !is_calibrated_between(p, s);
}

/// All records of one unit with either build, the latest first.
struct both_builds {
    std::vector<const tracking_record*> older, newer;
};

std::optional<record_pair> latest_pair(const both_builds& of_unit, const fleet_selection& s) {
    for (const auto* newer : of_unit.newer)
        for (const auto* older : of_unit.older)
            if (can_be_compared({older, newer}, s)) return record_pair{older, newer};
    return std::nullopt;
}

void put_latest_first(std::vector<const tracking_record*>& all) {
    std::ranges::reverse(all);
    std::ranges::stable_sort(all, std::ranges::greater{},
                             [](const tracking_record* r) { return time_of(*r); });
}

}  // namespace

bool record_pair::is_reckoned() const noexcept {
    return older->constants && newer->constants;
}

bool record_pair::is_of_one_bench() const noexcept {
    return older->bench == newer->bench && !older->bench.empty();
}

build_pairs pairs_under(bool own, const fleet_selection& s, const std::string& from,
                        const std::string& to) {
    std::map<std::string, both_builds> units;
    for (const auto& r : s.of_choice) {
        if ((r.in_force == constants_in_force::own) != own) continue;
        if (r.build == from) units[unit_key(r.unit)].older.push_back(&r);
        if (r.build == to) units[unit_key(r.unit)].newer.push_back(&r);
    }
    build_pairs out;
    for (auto& [ignored, unit] : units) {
        if (unit.older.empty() || unit.newer.empty()) continue;
        put_latest_first(unit.older);
        put_latest_first(unit.newer);
        if (const auto pair = latest_pair(unit, s))
            out.all.push_back(*pair);
        else
            out.calibrated_between.push_back(unit.newer.front()->unit);
    }
    return out;
}

}  // namespace cvrig
