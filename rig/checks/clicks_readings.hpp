#pragma once

#include <optional>
#include <string>
#include <vector>

#include "analysis/plateaus.hpp"
#include "analysis/transients.hpp"
#include "analysis/zipper.hpp"
#include "rig/checks/check.hpp"
#include "rig/checks/clicks_passages.hpp"

namespace cvrig {

/// A click as it is told: against the note's peak.
struct told_click {
    double size_db;
    double u_db;
    std::string at;
    double where_s;  ///< from the passage's first sample
    std::size_t passage, jack;
};

struct clicks_heard {
    std::vector<told_click> clicks;
    double hidden_db{-300.0};  ///< a click below this could have stayed unheard
};

/// Largest voltage of the held note as it was sampled, DC apart: the median of nine parts of it.
struct peak_of_note {
    volts height{0.0}, u_height{0.0};
};

[[nodiscard]] peak_of_note note_peak(const heard_passage& scene, std::size_t held_step,
                                     std::size_t jack);

/// The clicks of all passages, as every recorded jack gave them.
[[nodiscard]] analysis::outcome<clicks_heard> read_clicks(const check_request& request,
                                                          const clicks_plan& plan,
                                                          std::span<const heard_passage> heard);

/// One loss of sound.
struct dropout {
    seconds length;
    seconds u_length;
    std::string at;
    double where_s;  ///< from the passage's first sample
    std::size_t passage, jack;
    bool is_slip{false};    ///< if not, a hole
    double u_where_s{0.0};  ///< how far from there it may be
};

struct dropouts_heard {
    std::vector<dropout> dropouts;
    seconds hidden{0.0};  ///< a loss below this could have stayed unheard
};

/// Holes of every note behind its first 10 ms, across tied steps; slips of the held note alone.
/// Refuses: silent, no_contrast (the note is too near to the noise for a hole to stand out), as
/// find_slips.
[[nodiscard]] analysis::outcome<dropouts_heard> read_dropouts(const check_request& request,
                                                              const clicks_plan& plan,
                                                              std::span<const heard_passage> heard);

/// Steps of the pitch and of the brightness along a ramp, in cents, with the courses they were read
/// from.
struct ramp_steps {
    analysis::zipper_reading steps;
    /// The steps' height from what lies between them, where they are far enough apart.
    std::optional<analysis::plateau_reading> plateaus;
    std::string doubt;  ///< why neither height nor rate can be told, though something stands out
    bool is_no_stair{
        false};  ///< that doubt: something stands out, but between its steps nothing comes to rest
    std::vector<double> time_s, course_cents;
};

[[nodiscard]] analysis::outcome<ramp_steps> read_pitch_ramp(const check_request& request,
                                                            const heard_passage& heard);
[[nodiscard]] analysis::outcome<ramp_steps> read_cutoff_ramp(const check_request& request,
                                                             const heard_passage& heard);

}  // namespace cvrig
