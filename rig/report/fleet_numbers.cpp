#include <fmt/format.h>

#include <cmath>

#include "rig/report/fleet_story.hpp"

namespace cvrig::report {

namespace {

/// Nobody hears a hundredth of a cent, and of seventy cents nobody cares for tenths of tenths.
int places_of(double cents) {
    return std::abs(cents) < 0.095 ? 2 : 1;
}

double without_minus_zero(double x, int places) {
    return std::abs(x) < 0.5 * std::pow(10.0, -places) ? 0.0 : x;
}

}  // namespace

std::string signed_cents(double cents) {
    const int places = places_of(cents);
    const double shown = without_minus_zero(cents, places);
    if (shown == 0.0) return "0 cent";
    return fmt::format("{:+.{}f} cent", shown, places);
}

std::string plain_cents(double cents) {
    const int places = places_of(cents);
    return fmt::format("{:.{}f} cent", without_minus_zero(cents, places), places);
}

std::string uncertain_number(double cents, double expanded_cents) {
    const int places = places_of(expanded_cents);
    return fmt::format("{:.{}f} ± {:.{}f}", without_minus_zero(cents, places), places,
                       expanded_cents, places);
}

std::string per_cent(double share) {
    // Neither certainty nor impossibility is ever reached by rounding.
    const double percent = 100.0 * share;
    if (percent > 0.0 && percent < 0.05) return "under 0.1 %";
    if (percent > 99.95 && percent < 100.0) return "over 99.9 %";
    const bool near_an_end =
        (percent > 0.0 && percent < 1.0) || (percent > 99.0 && percent < 100.0);
    return fmt::format("{:.{}f} %", percent, near_an_end ? 1 : 0);
}

std::string counted_in_words(const kept_count& c) {
    if (c.undecided == 0) return fmt::format("{} of {}", c.within, c.all());
    return fmt::format("{} to {} of {}", c.within, c.within + c.undecided, c.all());
}

std::string_view in_words(default_kind kind) noexcept {
    switch (kind) {
        case default_kind::now:
            return "as it is";
        case default_kind::minimax:
            return "minimax";
        case default_kind::median:
            return "median";
    }
    return "as it is";
}

std::string change_in_words(const constants_change& c) {
    return fmt::format("multiply both constants by {:.5f}, then add {:+.2f} mV to the offset",
                       c.gain, without_minus_zero(1e3 * c.offset_volts, 2));
}

}  // namespace cvrig::report
