#include "rig/fleet/unit_or_build.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <set>
#include <utility>

#include "analysis/variance_components.hpp"
#include "rig/fleet/default_records.hpp"

namespace cvrig {

namespace {

constexpr std::array compared{trait::gain, trait::offset, trait::straightness};
constexpr std::size_t most_units = 250;

/// One record's traits and whose they are.
struct observed_record {
    std::string unit;
    std::size_t build;
    unit_traits traits;
};

double amount_of(const unit_traits& t, trait what) {
    if (what == trait::gain) return t.gain.cents;
    return what == trait::offset ? t.offset.cents : t.straightness.cents;
}

std::vector<observed_record> observe(const fleet_selection& s) {
    std::vector<observed_record> out;
    for (std::size_t b = 0; b < s.builds.size(); ++b)
        for (const auto& u : all_default_records(s.of_choice, s.builds[b]))
            if (const auto traits = traits_of(u.notes, s.volts_per_octave, s.reference_volts))
                out.push_back({unit_key(u.name), b, *traits});
    return out;
}

/// The equations grow with the cube of the units: of a large fleet those with most records stay.
void keep_most_told(std::vector<observed_record>& all) {
    std::map<std::string, std::size_t> records;
    for (const auto& r : all) ++records[r.unit];
    if (records.size() <= most_units) return;
    std::vector<std::pair<std::string, std::size_t>> ranked{records.begin(), records.end()};
    std::ranges::stable_sort(ranked, std::ranges::greater{},
                             [](const auto& r) { return r.second; });
    std::set<std::string> kept;
    for (std::size_t i = 0; i < most_units; ++i) kept.insert(ranked[i].first);
    std::erase_if(all, [&](const observed_record& r) { return !kept.contains(r.unit); });
}

/// Numbers from 0 for whatever occurs.
template <class Key>
std::map<Key, std::size_t> numbered(const std::set<Key>& all) {
    std::map<Key, std::size_t> out;
    for (const auto& key : all) out.emplace(key, out.size());
    return out;
}

class crossing {
public:
    explicit crossing(std::vector<observed_record> all) : all_{std::move(all)} {
        std::set<std::string> units;
        std::set<std::size_t> builds;
        std::set<std::pair<std::string, std::size_t>> cells;
        for (const auto& r : all_) {
            units.insert(r.unit);
            builds.insert(r.build);
            cells.emplace(r.unit, r.build);
        }
        units_ = numbered(units);
        builds_ = numbered(builds);
        repeats_ = cells.size() < all_.size();
    }

    [[nodiscard]] std::size_t records() const { return all_.size(); }
    [[nodiscard]] std::size_t units() const { return units_.size(); }
    [[nodiscard]] std::size_t builds() const { return builds_.size(); }
    [[nodiscard]] bool repeats() const { return repeats_; }

    [[nodiscard]] analysis::outcome<scatter_source> source_of(trait what) const {
        return builds() > 1 ? crossed(what) : units_alone(what);
    }

private:
    static scatter_part part_of(const analysis::variance_component& v, double sum) {
        return {std::sqrt(v.variance), std::sqrt(v.lower), std::sqrt(v.upper),
                sum > 0.0 ? v.variance / sum : 0.0};
    }

    [[nodiscard]] analysis::outcome<scatter_source> crossed(trait what) const {
        std::vector<analysis::crossed_observation> observed;
        for (const auto& r : all_)
            observed.push_back({units_.at(r.unit), builds_.at(r.build), amount_of(r.traits, what)});
        const auto found = analysis::measure_crossed(observed, units(), builds());
        if (!found) return analysis::refuse(found.error());
        const double sum = found->unit.variance + found->build.variance + found->residual.variance;
        return scatter_source{what, part_of(found->unit, sum), part_of(found->build, sum),
                              part_of(found->residual, sum)};
    }

    [[nodiscard]] analysis::outcome<scatter_source> units_alone(trait what) const {
        std::vector<double> observed;
        std::vector<std::size_t> unit;
        for (const auto& r : all_) {
            observed.push_back(amount_of(r.traits, what));
            unit.push_back(units_.at(r.unit));
        }
        const auto found = analysis::measure_one_way(observed, unit, units());
        if (!found) return analysis::refuse(found.error());
        const double sum = found->between.variance + found->within.variance;
        return scatter_source{what, part_of(found->between, sum), {}, part_of(found->within, sum)};
    }

    std::vector<observed_record> all_;
    std::map<std::string, std::size_t> units_;
    std::map<std::size_t, std::size_t> builds_;
    bool repeats_{false};
};

/// What the records do not allow to be told; empty if all can be.
std::string missing(const crossing& c) {
    if (c.units() < 2)
        return "Whether errors come from the unit or from the build cannot be told: fewer than two "
               "units were measured under default constants.";
    if (c.builds() < 2 && !c.repeats())
        return "Whether errors come from the unit or from the build cannot be told: only one build "
               "was measured under default constants, and no unit twice.";
    return {};
}

std::string refused(analysis::refusal why) {
    if (why == analysis::refusal::no_contrast)
        return "Whether errors come from the unit or from the build cannot be told: units and "
               "builds "
               "always changed together.";
    if (why == analysis::refusal::too_short)
        return "Whether errors come from the unit or from the build cannot be told: too few units "
               "were measured with more than one build.";
    return fmt::format("Whether errors come from the unit or from the build could not be told: {}.",
                       analysis::explain(why));
}

}  // namespace

unit_or_build_found tell_unit_from_build(const fleet_selection& s) {
    auto observed = observe(s);
    keep_most_told(observed);
    const crossing c{std::move(observed)};
    unit_or_build_found out;
    out.records = c.records();
    out.units = c.units();
    out.builds = c.builds();
    out.repeats = c.repeats();
    out.builds_told = c.builds() > 1;
    out.why_not = missing(c);
    if (!out.why_not.empty()) return out;
    for (const auto what : compared) {
        const auto source = c.source_of(what);
        if (source)
            out.sources.push_back(*source);
        else if (out.why_not.empty())
            out.why_not = refused(source.error());
    }
    if (out.why_not.empty() && !out.builds_told)
        out.why_not =
            "What builds add cannot be told: only one was measured under default constants.";
    return out;
}

}  // namespace cvrig
