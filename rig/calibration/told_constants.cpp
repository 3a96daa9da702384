#include "rig/calibration/told_constants.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace cvrig {

std::optional<bool> tells_the_same(const calibration_story& s, const tracking_moment& one,
                                   const tracking_moment& other) {
    constexpr double same_cents = 0.01;
    if (!one.told || !other.told) return std::nullopt;
    if (one.told_table.size() != other.told_table.size()) return std::nullopt;
    for (std::size_t i = 0; i < one.told_table.size(); ++i)
        if (std::abs(one.told_table[i] - other.told_table[i]) * 1200.0 >
            same_cents * s.volts_per_octave)
            return false;
    const auto change = change_between(*one.told, *other.told);
    return std::ranges::all_of(one.notes, [&](const tracked_note& n) {
        const double moved =
            change.error_after(n.at_volts, n.error_cents, s.volts_per_octave) - n.error_cents;
        return std::abs(moved) <= same_cents;
    });
}

std::vector<tracked_note> told_notes_after(const calibration_story& s) {
    if (!s.before.told || !s.after.told) return {};
    return notes_after(s.before.notes, change_between(*s.before.told, *s.after.told),
                       s.volts_per_octave);
}

std::string told_wrong_sign(const calibration_story& s) {
    // An offset that is smaller is as good with either sign.
    constexpr double least_offset_volts = 0.02;
    constexpr double alike = 0.02;
    if (!s.after.told) return {};
    const auto right =
        best_constants_of(s.before.notes, s.volts_per_octave, s.u_common_cents, s.before.told);
    if (!right || !right->constants) return {};
    const auto& wanted = *right->constants;
    const auto& told = *s.after.told;
    const auto is_flipped = [](double is, double should) {
        return std::abs(is + should) <= alike * std::abs(should);
    };
    if (is_flipped(told.gain_volts_per_code, wanted.gain_volts_per_code))
        return fmt::format("the module tells a gain of {:.6g} where {:.6g} is right",
                           told.gain_volts_per_code, wanted.gain_volts_per_code);
    if (std::abs(wanted.offset_volts) >= least_offset_volts &&
        is_flipped(told.offset_volts, wanted.offset_volts))
        return fmt::format("the module tells an offset of {:.6g} V where {:.6g} V is right",
                           told.offset_volts, wanted.offset_volts);
    return {};
}

const tracking_moment* first_told_loss(const calibration_story& s) {
    const auto lost = std::ranges::find_if(s.survived, [&](const tracking_moment& later) {
        return tells_the_same(s, s.after, later) == false;
    });
    return lost == s.survived.end() ? nullptr : &*lost;
}

}  // namespace cvrig
