#include "rig/fleet/default_records.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <utility>

#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

/// What a record can tell about its unit under the default, and how.
enum class use { as_it_is, taken_for_default, reckoned, own_unknown, at_odds };

bool is_usable(use u) {
    return u != use::own_unknown && u != use::at_odds;
}

bool is_of(const tracking_record& r, const std::string& build) {
    return r.build == build;
}

/// The numbers of the default: the latest that a console told under default constants; failing that,
/// what all consoles agree on whose constants nobody vouched for.
std::optional<pitch_constants> constants_of(std::span<const tracking_record> in_order,
                                            const std::string& build) {
    std::optional<pitch_constants> vouched;
    std::optional<pitch_constants> agreed;
    bool disagreed = false;
    for (const auto& r : in_order) {
        if (!is_of(r, build) || !r.constants) continue;
        if (r.in_force == constants_in_force::by_default) vouched = r.constants;
        if (r.in_force != constants_in_force::unknown) continue;
        disagreed = disagreed || (agreed && *agreed != *r.constants);
        agreed = r.constants;
    }
    if (vouched) return vouched;
    return disagreed ? std::nullopt : agreed;
}

/// Whether consoles tell different numbers under constants that nobody vouched for: then some of
/// them are no default.
bool are_unknown_at_odds(std::span<const tracking_record> in_order, const std::string& build) {
    const tracking_record* first = nullptr;
    for (const auto& r : in_order) {
        if (!is_of(r, build) || !r.constants || r.in_force != constants_in_force::unknown) continue;
        if (first != nullptr && *first->constants != *r.constants) return true;
        first = &r;
    }
    return false;
}

class chooser {
public:
    chooser(std::span<const tracking_record> in_order, const std::string& build)
        : constants_{constants_of(in_order, build)},
          at_odds_{are_unknown_at_odds(in_order, build)} {}

    [[nodiscard]] const std::optional<pitch_constants>& constants() const { return constants_; }

    [[nodiscard]] use use_of(const tracking_record& r) const {
        if (r.constants && constants_)
            return *r.constants == *constants_ ? use::as_it_is : use::reckoned;
        if (r.in_force == constants_in_force::by_default) return use::as_it_is;
        if (r.in_force == constants_in_force::own) return use::own_unknown;
        return r.constants && at_odds_ ? use::at_odds : use::taken_for_default;
    }

    /// The unit with the default, of a record that can tell.
    [[nodiscard]] fleet_unit unit_of(const tracking_record& r) const {
        fleet_unit u{.name = r.unit,
                     .started = r.started,
                     .bench = r.bench,
                     .notes = r.notes,
                     .traits = {},
                     .u_common_cents = r.u_common_cents,
                     .is_converted = use_of(r) == use::reckoned};
        if (u.is_converted)
            u.notes =
                notes_after(r.notes, change_between(*r.constants, *constants_), r.volts_per_octave);
        return u;
    }

private:
    std::optional<pitch_constants> constants_;
    bool at_odds_;
};

/// What is said of the units whose best record is used so; nothing where that needs no word.
std::string remark_on(use how, const std::vector<std::string>& units, std::size_t all) {
    const auto named =
        units.size() == all && all > 1
            ? fmt::format("all {} units", all)
            : fmt::format("{} {}", units.size() == 1 ? "unit" : "units", listed(units));
    switch (how) {
        case use::as_it_is:
            return {};
        case use::taken_for_default:
            return fmt::format(
                "Nobody said whose constants were in force on {}; they are taken for the default "
                "(`cvrig run --constants` says it).",
                named);
        case use::reckoned:
            return fmt::format(
                "Measured under other constants: {}; as both numbers are known, what the default "
                "would have done is reckoned.",
                named);
        case use::own_unknown:
            return fmt::format(
                "Measured only under own constants of unknown numbers, which cannot tell what the "
                "default would do, and left out: {}.",
                named);
        case use::at_odds:
            return fmt::format(
                "Left out, since the consoles tell different constants and nobody said which are "
                "the "
                "default: {}.",
                named);
    }
    return {};
}

/// The record that tells most of each unit: one that was made under the default before one that is
/// reckoned, then the latest.
std::map<std::string, const tracking_record*> best_of_each(
    std::span<const tracking_record> in_order, const std::string& build, const chooser& choose) {
    std::map<std::string, const tracking_record*> best;
    for (const auto& r : in_order) {
        if (!is_of(r, build)) continue;
        auto& kept = best[unit_key(r.unit)];
        const auto rank = [&](const tracking_record& one) {
            const auto how = choose.use_of(one);
            return is_usable(how) ? (how == use::reckoned ? 1 : 2) : 0;
        };
        if (kept == nullptr || rank(r) >= rank(*kept)) kept = &r;
    }
    return best;
}

}  // namespace

default_records_found default_records(std::span<const tracking_record> in_order,
                                      const std::string& build) {
    const chooser choose{in_order, build};
    default_records_found out;
    out.constants = choose.constants();
    std::map<use, std::vector<std::string>> by_use;
    const auto best = best_of_each(in_order, build, choose);
    for (const auto& [ignored, r] : best) {
        const auto how = choose.use_of(*r);
        by_use[how].push_back(r->unit);
        if (is_usable(how)) out.units.push_back(choose.unit_of(*r));
    }
    std::ranges::sort(out.units, {}, [](const fleet_unit& u) {
        const auto key = unit_key(u.name);
        return std::pair{key.size(), key};
    });
    for (const auto& [how, units] : by_use)
        if (auto remark = remark_on(how, units, best.size()); !remark.empty())
            out.remarks.push_back(std::move(remark));
    return out;
}

std::vector<fleet_unit> all_default_records(std::span<const tracking_record> in_order,
                                            const std::string& build) {
    const chooser choose{in_order, build};
    std::vector<fleet_unit> out;
    for (const auto& r : in_order)
        if (is_of(r, build) && is_usable(choose.use_of(r))) out.push_back(choose.unit_of(r));
    return out;
}

}  // namespace cvrig
