#include "rig/calibration/moved_line.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "analysis/fit.hpp"

namespace cvrig {

namespace {

std::optional<error_line> line_through(const std::vector<double>& at_volts,
                                       const std::vector<double>& errors_cents) {
    const auto fit = analysis::fit_line(at_volts, errors_cents);
    if (!fit) return std::nullopt;
    const auto [low, high] = std::minmax_element(at_volts.begin(), at_volts.end());
    const auto at_low = fit->predict(*low);
    const auto at_high = fit->predict(*high);
    return error_line{*low, *high, at_low.value, at_high.value,
                      std::max(at_low.standard_uncertainty, at_high.standard_uncertainty)};
}

}  // namespace

double error_line::size() const noexcept {
    return std::max(std::abs(low_cents), std::abs(high_cents));
}

std::optional<error_line> line_of(std::span<const tracked_note> notes) {
    std::vector<double> at_volts;
    std::vector<double> errors_cents;
    for (const auto& n : notes) {
        at_volts.push_back(n.at_volts);
        errors_cents.push_back(n.error_cents);
    }
    return line_through(at_volts, errors_cents);
}

std::vector<moved_note> moved_notes(std::span<const tracked_note> from,
                                    std::span<const tracked_note> to) {
    constexpr double same_volts = 1e-6;
    std::vector<moved_note> all;
    for (const auto& n : to) {
        const auto before = std::ranges::find_if(from, [&](const tracked_note& other) {
            return other.upward == n.upward && std::abs(other.at_volts - n.at_volts) < same_volts;
        });
        if (before == from.end()) continue;
        all.push_back({n.at_volts, n.upward, n.error_cents - before->error_cents,
                       std::hypot(n.u_cents, before->u_cents)});
    }
    return all;
}

std::optional<error_line> moved_between(std::span<const tracked_note> from,
                                        std::span<const tracked_note> to) {
    std::vector<double> at_volts;
    std::vector<double> errors_cents;
    for (const auto& n : moved_notes(from, to)) {
        at_volts.push_back(n.at_volts);
        errors_cents.push_back(n.moved_cents);
    }
    return line_through(at_volts, errors_cents);
}

}  // namespace cvrig
