#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "rig/expectations/wording.hpp"
#include "rig/report/fleet_story.hpp"

namespace cvrig::report {

namespace {

const kept_count* count_at(const std::vector<kept_count>& all, double limit) {
    const auto found = std::ranges::find(all, limit, &kept_count::limit_cents);
    return found == all.end() ? nullptr : &*found;
}

const unseen_share* share_of(const fleet_answer& a, default_kind kind, double limit) {
    const auto found = std::ranges::find_if(a.unseen, [&](const unseen_share& s) {
        return s.kind == kind && s.counted.limit_cents == limit;
    });
    return found == a.unseen.end() ? nullptr : &*found;
}

/// The one with most units surely within the limit; of equals the one with the least worst error.
const default_choice& best_for(const fleet_answer& a) {
    return *std::ranges::max_element(a.defaults, {}, [&](const default_choice& d) {
        const auto* c = count_at(d.kept, a.asked.limit_cents);
        return std::pair{c == nullptr ? 0 : c->within, -d.worst_cents()};
    });
}

std::string default_in_words(default_kind kind) {
    return kind == default_kind::now ? std::string{"the default as it is"}
                                     : fmt::format("the {} default", in_words(kind));
}

std::string worst_in_words(const fleet_answer& a, const default_choice& d) {
    const auto at = d.worst_unit();
    const auto& w = d.worst[at];
    return fmt::format(
        "the worst unit ({}) is off by {} cent at {}, the median unit by {}",
        a.chosen.units[at].name,
        uncertain_number(std::abs(w.error_cents), a.asked.coverage_factor * w.u_cents),
        show(w.at_volts, dimension::volts), plain_cents(d.median_cents()));
}

std::string constants_in_words(const fleet_answer& a, const default_choice& d) {
    if (!a.chosen.default_constants || !d.constants) return {};
    return fmt::format(
        " In numbers: offset {:.6g} V and gain {:.8g} V a code instead of {:.6g} V and {:.8g} V.",
        d.constants->offset_volts, d.constants->gain_volts_per_code,
        a.chosen.default_constants->offset_volts, a.chosen.default_constants->gain_volts_per_code);
}

/// What a maker wants to know first, if the counts are sure enough to say it.
std::string verdict_on_fleet(const fleet_answer& a) {
    constexpr double most = 0.9;
    const auto best = best_of(a.unseen, a.asked.limit_cents);
    if (!best) return {};
    const bool hopeless = std::ranges::all_of(a.unseen, [&](const unseen_share& s) {
        return s.counted.limit_cents != a.asked.limit_cents || s.upper < 0.5;
    });
    if (hopeless)
        return "No default constants serve this fleet: every unit must be calibrated by itself. ";
    if (best->lower < most) return {};
    return fmt::format(
        "{} serves{}: with about 95 % confidence, by {}, {} of all units or more are in tune "
        "without calibration{}. ",
        capitalised(default_in_words(best->kind)),
        best->kind == default_kind::now ? ", if it was chosen from none of these units" : "",
        best->kind == default_kind::now ? "counting" : "leaving one out", per_cent(best->lower),
        best->chosen_from > 1
            ? fmt::format(" (that it is the best of {} is allowed for)", best->chosen_from)
            : std::string{});
}

std::string first_answer(const fleet_answer& a) {
    const auto limit = show(a.asked.limit_cents, dimension::cents);
    const auto& now = a.defaults.front();
    const auto* count = count_at(now.kept, a.asked.limit_cents);
    auto text = verdict_on_fleet(a) +
                fmt::format(
                    "With the default constants as they are, {} units are within {} over the "
                    "whole range: {}.",
                    counted_in_words(*count), limit, worst_in_words(a, now));
    const auto& best = best_for(a);
    if (best.kind == default_kind::now)
        return text + " No other default keeps more of them within it.";
    const auto* better = count_at(best.kept, a.asked.limit_cents);
    if (better->within > count->within)
        return text + fmt::format(" With the {} default it would be {}.", in_words(best.kind),
                                  counted_in_words(*better));
    return text +
           fmt::format(
               " No default brings more units within it; the {} one brings the worst unit to "
               "{}.",
               in_words(best.kind), plain_cents(best.worst_cents()));
}

std::string on_choice(const fleet_answer& a, const default_choice& d) {
    const auto aim = d.kind == default_kind::minimax
                         ? "The default with the least worst error (minimax)"
                         : "The default that puts the median unit right (median)";
    auto text = fmt::format("{}: {}.{} Then {}.", aim, change_in_words(d.change),
                            constants_in_words(a, d), worst_in_words(a, d));
    if (!d.held_by.empty())
        text += fmt::format(" It is held by {} {}: mind whether {} sound.",
                            d.held_by.size() == 1 ? "unit" : "units", listed(d.held_by),
                            d.held_by.size() == 1 ? "it is" : "they are");
    if (!d.worst_unseen.empty())
        text += fmt::format(
            " Any one unit less would move it by at most {} at {} and {} at {}.",
            plain_cents(d.moves_low_cents), show(a.chosen.low_volts, dimension::volts),
            plain_cents(d.moves_high_cents), show(a.chosen.high_volts, dimension::volts));
    return text;
}

std::string share_in_words(const unseen_share& s) {
    if (s.lower <= 0.0) return fmt::format("at most {}", per_cent(s.upper));
    if (s.upper >= 1.0) return fmt::format("at least {}", per_cent(s.lower));
    return fmt::format("{} to {}", per_cent(s.lower), per_cent(s.upper));
}

std::string normal_at(const normal_bound& n) {
    std::vector<std::string> bounds;
    for (const auto& b : n.bounds)
        bounds.push_back(fmt::format("±{} ({})", plain_cents(b.cents), in_words(b.kind)));
    return fmt::format(
        "At {} the units' errors look normally distributed (Anderson-Darling A² = {:.2f}, p = "
        "{:.2f}): so it is about 95 % sure that 90 % of units lie within {}.",
        show(n.at_volts, dimension::volts), n.anderson_darling, n.p, listed(bounds));
}

std::vector<std::string> words_on_normal(const std::vector<normal_bound>& all) {
    std::vector<std::string> out;
    for (const auto& n : all)
        if (n.speaks) out.push_back(normal_at(n));
    if (!out.empty() || all.empty()) return out;
    // One reason is enough; the test's own is the most telling.
    const auto& why = *std::ranges::max_element(all, {}, &normal_bound::anderson_darling);
    return {"For unseen units only counting speaks. " + why.why_not};
}

}  // namespace

std::vector<std::string> words_on_defaults(const fleet_answer& a) {
    if (a.defaults.empty())
        return {fmt::format(
            "Of default constants nothing can be said: {} measured with build {} under the "
            "default, and it takes two.",
            a.chosen.units.empty() ? "no unit was" : "only one unit was", a.chosen.build)};
    std::vector<std::string> out{first_answer(a)};
    for (std::size_t i = 1; i < a.defaults.size(); ++i) out.push_back(on_choice(a, a.defaults[i]));
    return out;
}

std::vector<std::string> words_on_unseen(const fleet_answer& a) {
    if (a.unseen.empty()) return {};
    std::vector<std::string> shares;
    for (const auto& d : a.defaults)
        if (const auto* s = share_of(a, d.kind, a.asked.limit_cents))
            shares.push_back(
                fmt::format("{} with {}", share_in_words(*s), default_in_words(d.kind)));
    std::vector<std::string> out{fmt::format(
        "Of units that nobody has measured yet, these will be within {}: {} (about 95 % "
        "confidence, "
        "by counting, each unit left out once). For the default as it is, this holds if it was "
        "chosen from none of these units.",
        show(a.asked.limit_cents, dimension::cents), listed(shares))};
    for (auto& sentence : words_on_normal(a.normal)) out.push_back(std::move(sentence));
    return out;
}

}  // namespace cvrig::report
