#include "rig/calibration/told_constants.hpp"

#include <algorithm>
#include <cmath>

namespace cvrig {

std::optional<bool> tells_the_same(const calibration_story& s, const tracking_moment& one,
                                   const tracking_moment& other) {
    constexpr double same_cents = 0.01;
    if (!one.told || !other.told) return std::nullopt;
    const auto change = change_between(*one.told, *other.told);
    return std::ranges::all_of(one.notes, [&](const tracked_note& n) {
        const double moved =
            change.error_after(n.at_volts, n.error_cents, s.volts_per_octave) - n.error_cents;
        return std::abs(moved) <= same_cents;
    });
}

const tracking_moment* first_told_loss(const calibration_story& s) {
    const auto lost = std::ranges::find_if(s.survived, [&](const tracking_moment& later) {
        return tells_the_same(s, s.after, later) == false;
    });
    return lost == s.survived.end() ? nullptr : &*lost;
}

}  // namespace cvrig
