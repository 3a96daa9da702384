#include "rig/calibration/causes.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "rig/calibration/allowed.hpp"
#include "rig/calibration/misread_voltage.hpp"
#include "rig/calibration/moved_line.hpp"
#include "rig/calibration/told_constants.hpp"
#include "rig/diagnosis/diagnosis.hpp"
#include "rig/expectations/dimension.hpp"

namespace cvrig {

namespace {

std::string in_cents(double x) {
    return show(x, dimension::cents, 3);
}

/// "now off by +12.3 cent at 0 V and -4.5 cent at 4 V"
std::string in_words(const error_line& line) {
    return fmt::format("{} at {} and {} at {}", in_cents(line.low_cents),
                       show(line.low_volts, dimension::volts), in_cents(line.high_cents),
                       show(line.high_volts, dimension::volts));
}

double worst_of(const std::vector<tracked_note>& notes) {
    double worst = 0.0;
    for (const auto& n : notes) worst = std::max(worst, std::abs(n.error_cents));
    return worst;
}

/// As heard; else, of a module that sounds no pitch any more, as its constants tell.
std::vector<tracked_note> notes_after_procedure(const calibration_story& s) {
    return s.after.notes.empty() ? told_notes_after(s) : s.after.notes;
}

/// How much of the way that it had to go the pitch went, by least squares over both ends, and what
/// that leaves.
struct way_gone {
    double share;
    double u_share;
    double left_cents;
    double needed_cents;
};

std::optional<way_gone> way_from_to(const calibration_story& s) {
    const auto before = line_of(s.before.notes);
    const auto moved = moved_between(s.before.notes, notes_after_procedure(s));
    if (!before || !moved) return std::nullopt;
    const double need_low = -before->low_cents;
    const double need_high = -before->high_cents;
    const double squares = need_low * need_low + need_high * need_high;
    if (!(squares > 0.0)) return std::nullopt;
    way_gone out{};
    out.share = (moved->low_cents * need_low + moved->high_cents * need_high) / squares;
    out.needed_cents = std::sqrt(squares);
    out.left_cents = std::hypot(moved->low_cents - out.share * need_low,
                                moved->high_cents - out.share * need_high);
    out.u_share = std::hypot(moved->u_cents, before->u_cents) / out.needed_cents;
    return out;
}

std::optional<diagnosis> stuck(const calibration_story& s) {
    const auto& p = s.procedure;
    if (p.how != procedure_result::end::refused) return std::nullopt;
    if (p.stuck_at)
        return diagnosis{fmt::format("stuck at voltage {}", *p.stuck_at),
                         fmt::format("Stuck at {}: {} Look at how the firmware counts the voltages "
                                     "and confirms each.",
                                     p.stage, p.reason)};
    return diagnosis{fmt::format("refused while {}", p.stage),
                     fmt::format("The module did not go along while {}: {}", p.stage, p.reason)};
}

/// Not stored, the wrong way, or not far enough.
std::optional<diagnosis> went_wrong_way(const calibration_story& s) {
    // Below it, what the procedure leaves by itself would be taken for a share.
    constexpr double least_needed_cents = 8.0;
    // Two takes of one unit with the same constants differ by less.
    constexpr double unmoved_cents = 0.2;
    const auto way = way_from_to(s);
    if (!way || way->needed_cents < least_needed_cents) return std::nullopt;
    // A bend that the stair sees and the procedure's voltages do not tilts the line by about a cent.
    // What is stored many times too large tilts it as many times as much.
    const double allowed_cents =
        (1.0 + 0.05 * way->needed_cents) * std::max(1.0, std::abs(way->share));
    if (way->left_cents > allowed_cents) return std::nullopt;
    const double tolerance = 0.1 + s.coverage_factor * way->u_share + 1.0 / way->needed_cents;
    const auto before = *line_of(s.before.notes);
    const auto after = *line_of(notes_after_procedure(s));
    const auto from_to = fmt::format("before, the pitch was off by {}; after, by {}",
                                     in_words(before), in_words(after));
    const auto moved = *moved_between(s.before.notes, notes_after_procedure(s));
    if (moved.size() <= unmoved_cents + s.coverage_factor * moved.u_cents)
        return diagnosis{"constants not stored",
                         fmt::format("Not stored: the procedure went through and changed nothing "
                                     "({}). Look at where the constants are written.",
                                     from_to)};
    if (std::abs(way->share + 1.0) <= tolerance)
        return diagnosis{"wrong sign",
                         fmt::format("Wrong sign: the pitch moved as far as it had to, but the "
                                     "other way ({}). Look at how the correction is computed or "
                                     "kept.",
                                     from_to)};
    if (std::abs(way->share - 1.0) <= tolerance) return std::nullopt;
    return diagnosis{"wrong scale",
                     fmt::format("Wrong scale: the correction arrived {:.3g} times as large as "
                                 "needed ({}). Look at the unit in which the constants are kept.",
                                 way->share, from_to)};
}

diagnosis in_words(const misread_voltage& found) {
    return {
        fmt::format("voltage {} read too early", found.number),
        fmt::format("Voltage {} was read before it had settled: {}. Look at how long the firmware "
                    "waits, or averages, after each confirmation.",
                    found.number, found.evidence)};
}

/// Of two explanations for the same two numbers, the one that leaves less.
std::optional<diagnosis> wrong_constants(const calibration_story& s) {
    if (const auto flipped = told_wrong_sign(s); !flipped.empty())
        return diagnosis{"wrong sign", fmt::format("Wrong sign: {}. Look at how the constant is "
                                                   "computed or kept.",
                                                   flipped)};
    if (s.after.notes.empty()) return went_wrong_way(s);
    const auto early = misread_voltage_of(s);
    if (early && early->left_share == 0.0) return in_words(*early);
    auto wrong = went_wrong_way(s);
    if (!early) return wrong;
    const auto after = line_of(s.after.notes);
    const auto way = way_from_to(s);
    const bool way_leaves_less =
        wrong && after && way &&
        way->left_cents <= early->left_share * std::hypot(after->low_cents, after->high_cents);
    return way_leaves_less ? wrong : in_words(*early);
}

bool is_lost(const calibration_story& s, const tracking_moment& later) {
    return std::ranges::any_of(moved_notes(s.after.notes, later.notes), [&](const moved_note& n) {
        return std::abs(n.moved_cents) - s.coverage_factor * n.u_cents > most_allowed(s.kept);
    });
}

std::string evidence_of_loss(const calibration_story& s, const tracking_moment& later) {
    if (!is_lost(s, later))
        return tells_the_same(s, s.before, later).value_or(false)
                   ? "the module tells those that it had before"
                   : "the module tells others";
    const auto moved = *moved_between(s.after.notes, later.notes);
    const auto back = moved_between(s.before.notes, later.notes);
    auto evidence = fmt::format("the pitch moved by {}", in_words(moved));
    if (back && back->size() <= most_allowed(s.kept) + s.coverage_factor * back->u_cents)
        evidence += ", back to where it was before";
    return evidence;
}

/// What came after the first loss was lost with it.
std::optional<diagnosis> not_kept(const calibration_story& s) {
    struct loss {
        std::string_view moment, cause, words;
    };
    constexpr std::array losses{
        loss{"power cycle", "constants not stored",
             "Not stored: the new constants hold until the power cycle and are gone after it"},
        loss{"settings reset", "wiped by a settings reset",
             "Wiped by a settings reset: the new constants are gone after it"},
        loss{"re-flash", "lost at a re-flash",
             "Lost at a re-flash: the new constants are gone after it"}};
    const auto* told = first_told_loss(s);
    for (const auto& later : s.survived) {
        if (!is_lost(s, later) && &later != told) continue;
        const auto known = std::ranges::find(losses, later.name, &loss::moment);
        if (known == losses.end()) continue;
        return diagnosis{std::string{known->cause},
                         fmt::format("{} ({}). Look at what this writes over in the flash.",
                                     known->words, evidence_of_loss(s, later))};
    }
    return std::nullopt;
}

std::optional<diagnosis> not_good_enough(const calibration_story& s) {
    if (!s.best || worst_of(s.after.notes) <= most_allowed(s.error)) return std::nullopt;
    const double U = s.coverage_factor * s.best->left.worst.u_cents;
    if (s.best->left.worst.cents - U > most_allowed(s.error))
        return diagnosis{"hardware",
                         in_words(s.best->left, most_allowed(s.error), s.coverage_factor)};
    if (s.best->left.worst.cents + U < most_allowed(s.error))
        return diagnosis{
            "constants not the best",
            fmt::format("The unit could be within {}, and its own procedure leaves {}: multiplying "
                        "the gain by {:.6g} and adding {} would do it. Look at how the constants "
                        "are computed from the voltages.",
                        in_cents(s.best->left.worst.cents), in_cents(worst_of(s.after.notes)),
                        s.best->change.gain,
                        show(s.best->change.offset_volts, dimension::volts, 3))};
    return std::nullopt;
}

}  // namespace

std::optional<diagnosis> cause_of(const calibration_story& s) {
    if (auto found = stuck(s)) return found;
    if (!s.procedure.is_complete()) return std::nullopt;
    if (s.after.notes.empty()) return wrong_constants(s);
    if (auto found = not_kept(s)) return found;
    if (worst_of(s.after.notes) <= most_allowed(s.error)) return std::nullopt;
    if (auto found = wrong_constants(s)) return found;
    if (auto found = not_good_enough(s)) return found;
    return diagnosis{std::string{no_typical_pattern},
                     fmt::format("No typical pattern fits what was read: the pitch is off by {} "
                                 "after the procedure.",
                                 in_cents(worst_of(s.after.notes)))};
}

}  // namespace cvrig
