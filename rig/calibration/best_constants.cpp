#include "rig/calibration/best_constants.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <vector>

#include "analysis/fit.hpp"
#include "analysis/hat_basis.hpp"
#include "analysis/minimax_fit.hpp"
#include "rig/expectations/dimension.hpp"

namespace cvrig {

namespace {

/// All that was heard at one voltage.
struct both_ways {
    double sum_cents{0.0};
    double u_squared{0.0};
    int count{0};
    std::optional<tracked_note> up, down;

    [[nodiscard]] double mean() const { return sum_cents / count; }
    [[nodiscard]] double u_mean() const { return std::sqrt(u_squared) / count; }
};

std::map<double, both_ways> by_voltage(std::span<const tracked_note> notes) {
    std::map<double, both_ways> all;
    for (const auto& n : notes) {
        // The same voltage may come as two sums of steps.
        auto at = all.lower_bound(n.at_volts - 1e-6);
        if (at == all.end() || at->first > n.at_volts + 1e-6)
            at = all.emplace(n.at_volts, both_ways{}).first;
        auto& one = at->second;
        one.sum_cents += n.error_cents;
        one.u_squared += n.u_cents * n.u_cents;
        ++one.count;
        (n.upward ? one.up : one.down) = n;
    }
    return all;
}

void find_up_and_down(left_over& out, const std::map<double, both_ways>& all) {
    for (const auto& [v, one] : all) {
        if (!one.up || !one.down) continue;
        const double half = 0.5 * std::abs(one.up->error_cents - one.down->error_cents);
        if (half < out.up_and_down.cents) continue;
        out.up_and_down = {half, 0.5 * std::hypot(one.up->u_cents, one.down->u_cents)};
    }
}

void find_bend(left_over& out, const std::map<double, both_ways>& all, double offset,
               double slope) {
    for (const auto& [v, one] : all) {
        const double departure = one.mean() - offset - slope * v;
        if (std::abs(departure) < std::abs(out.bend.cents)) continue;
        out.bend = {departure, one.u_mean()};
        out.bend_at_volts = v;
    }
}

/// Second differences of neighbours see what a smooth curve does not have; of independent errors
/// their variance is six times that of one.
void find_steps(left_over& out, const std::map<double, both_ways>& all) {
    std::vector<both_ways> row;
    for (const auto& [v, one] : all) row.push_back(one);
    if (row.size() < 5) return;
    double sum = 0.0;
    double noise = 0.0;
    for (std::size_t i = 1; i + 1 < row.size(); ++i) {
        const double d = row[i - 1].mean() - 2.0 * row[i].mean() + row[i + 1].mean();
        sum += d * d / 6.0;
        noise += row[i].u_mean() * row[i].u_mean();
    }
    const auto count = static_cast<double>(row.size() - 2);
    out.steps.cents = std::sqrt(std::max(0.0, (sum - noise) / count));
    out.steps.u_cents = std::sqrt(sum / count / (2.0 * count));
}

}  // namespace

analysis::outcome<best_constants> best_constants_of(std::span<const tracked_note> notes,
                                                    double volts_per_octave, double u_common_cents,
                                                    const std::optional<pitch_constants>& now) {
    const double volts_per_cent = volts_per_octave / 1200.0;
    std::vector<double> heard;
    std::vector<double> asked;
    analysis::ordinate_uncertainty u{{}, u_common_cents * volts_per_cent};
    best_constants out;
    for (const auto& n : notes) {
        heard.push_back(heard_volts(n, volts_per_octave));
        asked.push_back(n.at_volts);
        u.independent.push_back(n.u_cents * volts_per_cent);
        out.worst_now_cents = std::max(out.worst_now_cents, std::abs(n.error_cents));
    }
    const auto fit = analysis::minimax_line(heard, asked, u);
    if (!fit) return analysis::refuse(fit.error());
    out.change = {fit->intercept, fit->slope};
    out.u_offset_volts = fit->u_intercept;
    out.u_gain = fit->u_slope;
    out.left.worst = {fit->worst_departure / volts_per_cent,
                      fit->u_worst_departure / volts_per_cent};
    if (now) out.constants = out.change.applied_to(*now);
    const auto left = notes_after(notes, out.change, volts_per_octave);
    const auto all = by_voltage(left);
    find_up_and_down(out.left, all);
    find_bend(out.left, all, 0.0, 0.0);
    find_steps(out.left, all);
    return out;
}

analysis::outcome<best_table> best_table_of(std::span<const tracked_note> notes,
                                            std::span<const double> at_volts,
                                            double volts_per_octave, double u_common_cents) {
    const double volts_per_cent = volts_per_octave / 1200.0;
    std::vector<double> heard;
    std::vector<double> missing;
    analysis::ordinate_uncertainty u{{}, u_common_cents * volts_per_cent};
    for (const auto& n : notes) {
        heard.push_back(heard_volts(n, volts_per_octave));
        missing.push_back(n.at_volts - heard.back());
        u.independent.push_back(n.u_cents * volts_per_cent);
    }
    const auto basis = analysis::hat_basis(at_volts, heard);
    if (!basis) return analysis::refuse(basis.error());
    const auto fit = analysis::minimax_fit(*basis, at_volts.size(), missing, u);
    if (!fit) return analysis::refuse(fit.error());
    best_table out;
    out.add_volts = fit->coefficients;
    for (std::size_t i = 0; i < at_volts.size(); ++i)
        out.u_volts.push_back(fit->standard_uncertainty(i));
    out.worst = {fit->worst_departure / volts_per_cent, fit->u_worst_departure / volts_per_cent};
    return out;
}

std::string in_words(const left_over& left, double wanted_cents, double coverage_factor) {
    const auto in_cents = [](double x) { return show(x, dimension::cents, 2); };
    struct part {
        double size;
        std::string name;
        std::string whose;
    };
    const std::array<part, 3> parts{
        part{std::abs(left.bend.cents) - left.steps.cents,
             fmt::format("a bend of the converter's line, {} at {}", in_cents(left.bend.cents),
                         show(left.bend_at_volts, dimension::volts)),
             "a table of corrections would take that away"},
        part{left.up_and_down.cents,
             fmt::format("{} between going up and going down either way",
                         in_cents(left.up_and_down.cents)),
             "hysteresis of the hardware, or of how the firmware reads it"},
        part{left.steps.cents,
             fmt::format("a scatter of {} from note to note", in_cents(left.steps.cents)),
             "the steps of the converter or of the firmware's arithmetic"}};
    const auto& largest = *std::ranges::max_element(parts, {}, &part::size);
    const double U = coverage_factor * left.worst.u_cents;
    auto text = fmt::format("They would leave {}, which no gain and offset can take away",
                            show(left.worst.cents, U, dimension::cents));
    if (largest.size > coverage_factor * left.up_and_down.u_cents)
        text += fmt::format(": mostly {} ({})", largest.name, largest.whose);
    if (left.worst.cents - U > wanted_cents)
        return text + fmt::format(
                          ". That alone is more than the {} wanted: the hardware is to "
                          "blame, not the constants.",
                          in_cents(wanted_cents));
    return text + ".";
}

}  // namespace cvrig
