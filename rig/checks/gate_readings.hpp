#pragma once

#include <vector>

#include "analysis/spread.hpp"
#include "rig/checks/gate_passages.hpp"

/// What the gate check reads.
namespace cvrig {

/// Mean delay of the sound behind a hard edge, and its scatter from edge to edge.
struct edge_delay {
    double mean_s, deviation_s;
    std::size_t edges;
};

/// At which voltages of its jack a gate opened and closed.
struct thresholds {
    std::vector<double> up_v, down_v;  ///< one for each slow gate that is not rough
    double u_up_v, u_down_v;           ///< of their means, the bench's voltage apart
    edge_delay rise, fall;             ///< that they were corrected by
    hertz pitch;
};

/// Definition: the voltage that was sent when the note began (ended), less the delay behind a hard
///             edge of the same passage.
/// Refuses:    as sounding_pitch, measure_note_start and measure_note_end; no_fit also where no
///             slow gate struck.
[[nodiscard]] analysis::outcome<thresholds> read_thresholds(const check_request& request,
                                                            const heard_passage& heard);

/// How often each slow gate struck.
struct slow_strikes {
    bool rough;
    std::size_t strikes;
    double begins_s;  ///< from the passage's start
};
[[nodiscard]] analysis::outcome<std::vector<slow_strikes>> count_slow_strikes(
    const check_request& request, const heard_passage& heard);

/// How many triggers of one width struck.
struct trigger_hits {
    seconds width;
    unsigned struck{0}, sent{0};
    analysis::proportion_interval share;  ///< Clopper-Pearson, with the file's coverage
};
[[nodiscard]] analysis::outcome<trigger_hits> count_hits(const check_request& request,
                                                         const trigger_tune& tune,
                                                         const heard_passage& heard);

/// Between which widths the shortest trigger lies that is struck surely in `sure_share` of all
/// cases: above `missed` (surely struck less often; 0 if no width was) and at most `struck`.
struct trigger_bracket {
    double missed_s, struck_s;
};
[[nodiscard]] trigger_bracket bracket_of(std::span<const trigger_hits> hits);

/// What came of gates that follow each other fast. A strike belongs to the gate that was the last to
/// rise before it, so that no gate pays for another.
struct fast_strikes {
    std::vector<std::size_t> of_gate;  ///< how often each gate struck, in their order

    [[nodiscard]] std::size_t all() const;
    [[nodiscard]] std::vector<std::size_t> missed() const;   ///< numbers of gates, from 1
    [[nodiscard]] std::vector<std::size_t> doubled() const;  ///< that struck more than once
};

/// The pitch at which the notes of the slow gates sound, whatever the module's tuning.
/// Refuses as sounding_pitch.
[[nodiscard]] analysis::outcome<hertz> gate_pitch(const check_request& request,
                                                  const heard_passage& slow);

/// Refuses as count_strikes. At another pitch than theirs, notes seem to strike twice.
[[nodiscard]] analysis::outcome<fast_strikes> match_fast_gates(const heard_passage& heard,
                                                               hertz pitch);

}  // namespace cvrig
