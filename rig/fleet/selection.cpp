#include "rig/fleet/selection.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "rig/expectations/user_error.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/fleet/default_records.hpp"

namespace cvrig {

namespace {

void require_one_module(std::span<const tracking_record> records) {
    std::set<std::string> names;
    for (const auto& r : records) names.insert(r.module);
    if (names.size() == 1) return;
    const std::vector<std::string> all{names.begin(), names.end()};
    throw user_error{fmt::format(
        "The records are of several modules ({}); name the folder of one of them.", listed(all))};
}

bool has_settings(const tracking_record& r, const setting_choice& wanted) {
    return std::ranges::all_of(wanted, [&](const auto& one) {
        const auto found = r.choice.find(one.first);
        return found != r.choice.end() && found->second == one.second;
    });
}

/// The choice that the most units were measured with, then the one with the most notes.
setting_choice choice_of(std::span<const tracking_record> records, const fleet_question& q) {
    struct weight {
        std::set<std::string> units;
        std::size_t notes{0};
    };
    std::map<setting_choice, weight> all;
    for (const auto& r : records) {
        if (!has_settings(r, q.settings)) continue;
        auto& w = all[r.choice];
        w.units.insert(unit_key(r.unit));
        w.notes = std::max(w.notes, r.notes.size());
    }
    if (all.empty())
        throw user_error{
            fmt::format("No record was made with {}; correct --set.", in_words(q.settings))};
    const auto best = std::ranges::max_element(all, {}, [](const auto& one) {
        return std::pair{one.second.units.size(), one.second.notes};
    });
    return best->first;
}

/// The settings of a choice that not all records share.
setting_choice differing(std::span<const tracking_record> records, const setting_choice& choice) {
    setting_choice out;
    for (const auto& one : choice)
        if (!std::ranges::all_of(records, [&](const tracking_record& r) {
                return has_settings(r, {{one.first, one.second}});
            }))
            out.insert(one);
    return out;
}

/// Each is told by the records before and after it; one of them is enough.
std::vector<unit_calibration> calibrations_of(std::span<const tracking_record> records) {
    std::vector<unit_calibration> out;
    for (const auto& r : records)
        if (r.occasion == "before calibration" || r.occasion == "after calibration")
            out.push_back({unit_key(r.unit), r.started});
    return out;
}

std::vector<std::string> builds_of(std::span<const tracking_record> in_order) {
    std::vector<std::string> builds;
    for (const auto& r : in_order)
        if (std::ranges::find(builds, r.build) == builds.end()) builds.push_back(r.build);
    return builds;
}

std::size_t units_of(std::span<const tracking_record> records, const std::string& build) {
    std::set<std::string> units;
    for (const auto& r : records)
        if (r.build == build) units.insert(unit_key(r.unit));
    return units.size();
}

std::string build_of(const fleet_selection& s, const fleet_question& q) {
    if (!q.build.empty()) {
        if (std::ranges::find(s.builds, q.build) == s.builds.end())
            throw user_error{fmt::format("No record is of the build {}; there are {}.",
                                         cvrig::quoted(q.build), listed(s.builds))};
        return q.build;
    }
    std::size_t most = 0;
    for (const auto& b : s.builds) most = std::max(most, units_of(s.of_choice, b));
    for (auto b = s.builds.rbegin(); b != s.builds.rend(); ++b)
        if (2 * units_of(s.of_choice, *b) >= most) return *b;
    return s.builds.back();
}

/// The range that all units share; of all records where no unit is left.
void add_range(fleet_selection& s) {
    s.low_volts = -INFINITY;
    s.high_volts = INFINITY;
    const auto take_in = [&](std::span<const tracked_note> notes) {
        const auto [low, high] = std::ranges::minmax_element(notes, {}, &tracked_note::at_volts);
        s.low_volts = std::max(s.low_volts, low->at_volts);
        s.high_volts = std::min(s.high_volts, high->at_volts);
    };
    for (const auto& u : s.units) take_in(u.notes);
    if (s.units.empty())
        for (const auto& r : s.of_choice) take_in(r.notes);
    if (!(s.high_volts > s.low_volts))
        throw user_error{
            "The stairs of the units have no range in common; file runs that play the same notes."};
    s.reference_volts = s.low_volts <= 0.0 && s.high_volts >= 0.0 ? 0.0 : s.low_volts;
}

/// The traits of each unit; who cannot have any is left out.
void add_traits(fleet_selection& s) {
    std::vector<fleet_unit> kept;
    for (auto& u : s.units) {
        const auto traits = traits_of(u.notes, s.volts_per_octave, s.reference_volts);
        if (traits) {
            u.traits = *traits;
            kept.push_back(std::move(u));
        } else {
            s.remarks.push_back(
                fmt::format("Unit {} is left out: its record holds too few notes.", u.name));
        }
    }
    s.units = std::move(kept);
}

}  // namespace

std::string unit_key(const std::string& unit) {
    const bool is_number =
        !unit.empty() && unit.find_first_not_of("0123456789") == std::string::npos;
    if (!is_number) return unit;
    const auto first = unit.find_first_not_of('0');
    return first == std::string::npos ? "0" : unit.substr(first);
}

fleet_selection select(std::span<const tracking_record> records, const fleet_question& question) {
    require_one_module(records);
    fleet_selection s;
    s.module = records.front().module;
    s.choice = choice_of(records, question);
    s.chosen = differing(records, s.choice);
    s.calibrations = calibrations_of(records);
    std::ranges::copy_if(records, std::back_inserter(s.of_choice),
                         [&](const tracking_record& r) { return r.choice == s.choice; });
    std::ranges::stable_sort(s.of_choice, {}, &tracking_record::started);
    s.volts_per_octave = s.of_choice.back().volts_per_octave;
    const auto other_law = std::erase_if(s.of_choice, [&](const tracking_record& r) {
        return std::abs(r.volts_per_octave - s.volts_per_octave) > 1e-12;
    });
    if (other_law > 0)
        s.remarks.push_back(
            fmt::format("{} of another pitch law than {:g} V an octave {} left out.",
                        other_law == 1 ? "A record" : fmt::format("{} records", other_law),
                        s.volts_per_octave, other_law == 1 ? "is" : "are"));
    s.builds = builds_of(s.of_choice);
    s.build = build_of(s, question);
    auto found = default_records(s.of_choice, s.build);
    s.default_constants = found.constants;
    s.units = std::move(found.units);
    std::ranges::move(found.remarks, std::back_inserter(s.remarks));
    add_range(s);
    add_traits(s);
    return s;
}

}  // namespace cvrig
