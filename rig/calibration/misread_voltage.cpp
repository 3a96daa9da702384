#include "rig/calibration/misread_voltage.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "analysis/fit.hpp"
#include "rig/calibration/moved_line.hpp"
#include "rig/expectations/dimension.hpp"

namespace cvrig {

namespace {

// A hundredth of a step of 1 V is 4 cent of offset; a read that is further off than half the way is
// no early one.
constexpr double least_share = 0.003;
constexpr double most_share = 0.6;

/// What the unit sounds at a voltage, between the notes on either side of it.
std::optional<double> heard_at(double at_volts, const tracking_moment& moment,
                               double volts_per_octave) {
    double below_volts = -INFINITY;
    double above_volts = INFINITY;
    for (const auto& n : moment.notes) {
        if (n.at_volts <= at_volts + 1e-9) below_volts = std::max(below_volts, n.at_volts);
        if (n.at_volts >= at_volts - 1e-9) above_volts = std::min(above_volts, n.at_volts);
    }
    const auto mean_at = [&](double v) {
        double sum = 0.0;
        int count = 0;
        for (const auto& n : moment.notes) {
            if (std::abs(n.at_volts - v) > 1e-9) continue;
            sum += heard_volts(n, volts_per_octave);
            ++count;
        }
        return sum / count;
    };
    if (!std::isfinite(below_volts) || !std::isfinite(above_volts)) return std::nullopt;
    if (above_volts - below_volts < 1e-9) return mean_at(below_volts);
    const double share = (at_volts - below_volts) / (above_volts - below_volts);
    return (1.0 - share) * mean_at(below_volts) + share * mean_at(above_volts);
}

/// By how many volts each code is off from what the unit makes of that voltage.
std::vector<double> code_errors_volts(const calibration_story& s) {
    std::vector<double> out;
    // Codes say nothing of what a table adds.
    if (!s.before.told ||
        std::ranges::any_of(s.before.told_table, [](double v) { return v != 0.0; }))
        return out;
    for (const auto& point : s.procedure.points) {
        const auto heard = heard_at(point.asked.value(), s.before, s.volts_per_octave);
        if (!point.seen || !heard) return {};
        const auto& c = *s.before.told;
        out.push_back(c.offset_volts + c.gain_volts_per_code * *point.seen - *heard);
    }
    return out;
}

/// The errors of pitch, in volts, at both ends of a stair.
struct ends {
    double low, high;

    [[nodiscard]] double size() const { return std::hypot(low, high); }
};

/// What the straight line of least squares makes of the stair when a share of the step to one voltage
/// was still to come as it was read.
ends if_misread(const calibration_story& s, std::size_t index, double share, const error_line& at) {
    std::vector<double> seen_volts;
    std::vector<double> asked_volts;
    for (const auto& p : s.procedure.points) {
        asked_volts.push_back(p.asked.value());
        seen_volts.push_back(p.asked.value());
    }
    seen_volts[index] -= share * (asked_volts[index] - asked_volts[index - 1]);
    const auto line = analysis::fit_line(seen_volts, asked_volts);
    if (!line) return {INFINITY, INFINITY};
    return {line->at(at.low_volts) - at.low_volts, line->at(at.high_volts) - at.high_volts};
}

/// The share that explains most of what was read, and what it leaves.
struct best_share {
    double share{0.0};
    double left_volts{INFINITY};
};

best_share share_of(const calibration_story& s, std::size_t index, const error_line& after,
                    const ends& read) {
    constexpr double step = 0.0005;
    best_share best;
    for (double share = least_share; share <= most_share; share += step) {
        const auto would = if_misread(s, index, share, after);
        const double left = ends{read.low - would.low, read.high - would.high}.size();
        if (left < best.left_volts) best = {share, left};
    }
    return best;
}

std::string in_words(const calibration_story& s, std::size_t index, double share,
                     const error_line& after) {
    return fmt::format(
        "the pitch is off by {} at {} and {} at {}, as if {:.2g} % of the step from {} to "
        "{} had been still to come",
        show(after.low_cents, dimension::cents, 3), show(after.low_volts, dimension::volts),
        show(after.high_cents, dimension::cents, 3), show(after.high_volts, dimension::volts),
        100.0 * share, show(s.procedure.points[index - 1].asked.value(), dimension::volts),
        show(s.procedure.points[index].asked.value(), dimension::volts));
}

/// Whether most of what is off afterwards comes from it.
bool explains(const calibration_story& s, const misread_voltage& found) {
    constexpr double most_left = 0.25;
    const auto after = line_of(s.after.notes);
    if (!after || s.procedure.points.size() < 3) return false;
    const double volts_per_cent = s.volts_per_octave / 1200.0;
    const ends read{after->low_cents * volts_per_cent, after->high_cents * volts_per_cent};
    const auto would = if_misread(s, found.number - 1, found.share, *after);
    return ends{read.low - would.low, read.high - would.high}.size() <= most_left * read.size();
}

std::optional<misread_voltage> by_codes(const calibration_story& s) {
    const auto off = code_errors_volts(s);
    std::optional<misread_voltage> found;
    for (std::size_t i = 1; i < off.size(); ++i) {
        const double step = (s.procedure.points[i - 1].asked - s.procedure.points[i].asked).value();
        const double share = off[i] / step;
        if (share < least_share || share > most_share || (found && share < found->share)) continue;
        found = misread_voltage{i + 1, share, 0.0, {}};
    }
    // Codes that are all off are told in another unit than the constants.
    if (!found || std::abs(off.front()) > 0.2 * std::abs(off[found->number - 1]))
        return std::nullopt;
    if (!explains(s, *found)) return std::nullopt;
    found->evidence = fmt::format(
        "the module says it saw {} less of the step from {} to {} than it sounded before, which is "
        "{:.2g} % of it",
        show(std::abs(off[found->number - 1]), dimension::volts, 3),
        show(s.procedure.points[found->number - 2].asked.value(), dimension::volts),
        show(s.procedure.points[found->number - 1].asked.value(), dimension::volts),
        100.0 * found->share);
    return found;
}

std::optional<misread_voltage> by_line(const calibration_story& s) {
    constexpr double most_left = 0.1;
    const auto after = line_of(s.after.notes);
    if (!after || s.procedure.points.size() < 3) return std::nullopt;
    const double volts_per_cent = s.volts_per_octave / 1200.0;
    const ends read{after->low_cents * volts_per_cent, after->high_cents * volts_per_cent};
    std::optional<misread_voltage> found;
    for (std::size_t i = 1; i < s.procedure.points.size(); ++i) {
        const auto best = share_of(s, i, *after, read);
        const double left_share = best.left_volts / read.size();
        if (left_share > (found ? found->left_share : most_left)) continue;
        found = misread_voltage{i + 1, best.share, left_share, in_words(s, i, best.share, *after)};
    }
    return found;
}

}  // namespace

std::optional<misread_voltage> misread_voltage_of(const calibration_story& s) {
    const bool has_codes = !code_errors_volts(s).empty();
    return has_codes ? by_codes(s) : by_line(s);
}

}  // namespace cvrig
