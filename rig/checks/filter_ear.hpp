#pragma once

#include <optional>
#include <span>
#include <vector>

#include "analysis/cutoff.hpp"
#include "rig/checks/check.hpp"

namespace cvrig {

/// The filter at one moment of a note.
struct heard_cutoff {
    seconds at;  ///< from the passage's start
    analysis::cutoff_reading filter;

    [[nodiscard]] octaves in_octaves() const;  ///< above 1 Hz
    [[nodiscard]] octaves u_octaves() const;
};

/// The note by which a filter is heard: held through all steps from `first` on, a sawtooth.
struct filter_note {
    hertz pitch;
    volts noise;
    /// The level far under the cutoff against time, a straight line in nepers, where it is known.
    struct gain_line {
        double nepers{0.0};  ///< at the passage's start
        double nepers_per_s{0.0};
        double u_nepers{0.0};
        double u_noise_nepers{0.0};  ///< part of it: scatter
    };
    std::optional<gain_line> gain{};
};

/// The note in a stretch in which its filter stands still: one that moves turns the phase of the
/// fundamental, and so bends the pitch. Refuses as measure_tone.
[[nodiscard]] analysis::outcome<filter_note> hear_note(const heard_passage& heard, seconds from,
                                                       seconds to, hertz expected);

/// The filter in one stretch of the passage, which must hold two periods. Refuses as
/// windowed_levels and measure_cutoff.
[[nodiscard]] analysis::outcome<heard_cutoff> hear_cutoff(const heard_passage& heard,
                                                          const filter_note& note, seconds from,
                                                          seconds to);

/// The filter at the end of step `index`.
[[nodiscard]] analysis::outcome<heard_cutoff> hear_cutoff(const heard_passage& heard,
                                                          const filter_note& note,
                                                          std::size_t index, seconds window);

/// The filter's way through step `index`, in windows of two periods; moments that cannot be read
/// are left out.
[[nodiscard]] std::vector<heard_cutoff> hear_course(const heard_passage& heard,
                                                    const filter_note& note, std::size_t index,
                                                    seconds hop);

/// The level far under the cutoff, from moments at which the filter was well open.
[[nodiscard]] std::optional<filter_note::gain_line> gain_of(std::span<const heard_cutoff> open,
                                                            hertz pitch);

/// The start of a step and what follows its last, in seconds from the passage's start.
[[nodiscard]] seconds start_of_step(const heard_passage& heard, std::size_t index);
[[nodiscard]] seconds end_of_step(const heard_passage& heard, std::size_t index);

}  // namespace cvrig
