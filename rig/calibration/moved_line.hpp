#pragma once

#include <optional>
#include <span>
#include <vector>

#include "rig/fleet/tracking_record.hpp"

namespace cvrig {

/// The straight line of a stair's errors, told at both ends of the stair, where its two numbers are
/// of one size.
struct error_line {
    double low_volts{0.0};
    double high_volts{0.0};
    double low_cents{0.0};
    double high_cents{0.0};
    double u_cents{0.0};  ///< of either end

    [[nodiscard]] double at(double v) const noexcept {
        return low_cents + (high_cents - low_cents) * (v - low_volts) / (high_volts - low_volts);
    }
    /// The larger of both ends.
    [[nodiscard]] double size() const noexcept;
};

/// Refuses: empty for fewer than three notes or notes at one voltage.
[[nodiscard]] std::optional<error_line> line_of(std::span<const tracked_note> notes);

/// How far one note moved.
struct moved_note {
    double at_volts{0.0};
    bool upward{true};
    double moved_cents{0.0};
    double u_cents{0.0};
};

/// Each note of a stair that was heard both times; matched by voltage and direction.
[[nodiscard]] std::vector<moved_note> moved_notes(std::span<const tracked_note> from,
                                                  std::span<const tracked_note> to);

/// How far the notes of a stair moved from one time to the next, as a line; notes are matched by
/// voltage and direction. What is the same in both, such as the bend of a converter, is not in it.
[[nodiscard]] std::optional<error_line> moved_between(std::span<const tracked_note> from,
                                                      std::span<const tracked_note> to);

}  // namespace cvrig
