#pragma once

#include <cmath>
#include <optional>
#include <vector>

#include "analysis/closing_filter.hpp"
#include "rig/checks/filter_ear.hpp"

namespace cvrig {

/// A cutoff at one voltage of jack "cutoff", freed of what the filter's envelope still adds.
struct stair_step {
    volts at;
    octaves cutoff;  ///< above 1 Hz; where `beyond`, at least that
    octaves u_cutoff;
    /// Parts of u_cutoff. What is left of an envelope that does not follow its law to the end: alike in
    /// every take of the same strike.
    octaves u_law;
    octaves u_rest;  ///< what this take alone leaves unknown of the rest
    /// And where it moves while it is heard: alike at like cutoffs that close alike.
    octaves u_moves;
    octaves u_noise;
    bool beyond{false};
    /// No filter fits: it moved while it was heard, as one does whose voltage stands between two steps
    /// of its converter. Then nothing else holds.
    bool unread{false};

    [[nodiscard]] bool heard() const noexcept { return !beyond && !unread; }
    [[nodiscard]] octaves u_envelope() const noexcept {
        return octaves{std::hypot(u_law.value(), u_rest.value())};
    }
};

/// A note that waits for its filter's envelope to be over while jack "cutoff" stands at
/// `waiting_at`, and then holds it at each of `levels`.
[[nodiscard]] passage cutoff_stair(const check_request& request, seconds wait, volts waiting_at,
                                   const std::vector<volts>& levels, seconds held);

struct heard_stair {
    filter_note note;
    analysis::outcome<analysis::closing_filter_reading> closing;  ///< of the note that waits
    std::vector<stair_step> steps;                                ///< one for each level
};

/// One level in ten, or one, may be `unread`. Of an envelope that is not seen to close, nothing is taken
/// away, and as much counts as uncertain as the waiting note may have left at its slope.
///
/// Refuses: as measure_tone for the note, as measure_cutoff for the first level that fails otherwise;
///          as measure_closing_filter where the waiting note tells no slope either.
[[nodiscard]] analysis::outcome<heard_stair> hear_stair(const check_request& request,
                                                        const heard_passage& heard);

/// The pitch of such notes: the lowest that the file's pitch law and jack allow, or parameter
/// "note".
[[nodiscard]] volts stair_note(const check_request& request);

/// The range of a CV jack; throws user_error if the module has none of that name.
struct jack_range {
    volts low, high;
    [[nodiscard]] volts middle() const { return 0.5 * (low + high); }
};
[[nodiscard]] jack_range range_of(const check_request& request, const char* jack);

/// Standard uncertainty of what the bench feeds to a jack, from its file; 0 V where it feeds none.
[[nodiscard]] volts u_of_jack(const check_request& request, const char* jack);

/// `count` voltages from one end of the range to the other.
[[nodiscard]] std::vector<volts> levels_over(jack_range range, std::size_t count);

}  // namespace cvrig
