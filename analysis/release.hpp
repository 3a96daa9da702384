#pragma once

#include <span>

#include "analysis/gain_course.hpp"
#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// What a gain course says about the end of a note: how fast it falls, whether it is cut off, and
/// what a strike in the middle of the fall does.
namespace cvrig::analysis {

struct release_reading {
    seconds begins;  ///< when the fall begins
    seconds time_constant, u_time_constant;
    decibels fit_residual;  ///< rms distance of the points from it
};

/// Time constant of an exponential release.
///
/// Definition: least squares of the gain's logarithm from 0.9 down to 0.01 (or to twenty times the
///             noise, or to where it is cut off). A fall from 90 to 10 % takes ln 9 = 2.197225 time
///             constants, one of 60 dB ln 1000 = 6.907755.
/// Source:     standard mathematics of the first-order decay.
/// Input:      a course that begins before the gate falls, its windows much shorter than the time
///             constant.
/// Error:      3 % (tests/analysis/release_test.cpp).
/// Refuses:    too_short (less than eight points of the fall), no_fit (no fall, or no exponential:
///             rms distance above 1.5 dB).
[[nodiscard]] outcome<release_reading> measure_release(std::span<const gain_point> course,
                                                       seconds gate_falls);

/// How a fall ends: cut off, lost in the noise, or with the record.
enum class tail_end { cut, noise, record };

struct tail_reading {
    decibels smooth_to;  ///< the lowest level of the smooth fall, re the level at the gate's end
    decibels u_smooth_to;
    tail_end end;
};

/// The level down to which a released note falls smoothly.
///
/// Definition: the fall is cut off where the gain loses 20 dB or more within two windows.
/// Input:      as measure_release; the time constant above the length of a window.
/// Refuses:    too_short (no point after the gate), no_fit (no fall).
[[nodiscard]] outcome<tail_reading> measure_tail(std::span<const gain_point> course,
                                                 seconds gate_falls);

struct restrike_reading {
    /// How far the level falls below its course before it rises again; 0 for not at all.
    decibels drop;
    decibels u_drop;
    seconds at;  ///< when the level is lowest
};

/// What a strike does to a note that still falls: a good envelope rises from where it is, a bad one
/// drops first, which clicks.
///
/// Definition: lowest gain near the strike over the exponential of the fall before it, at the same
///             time. The strike is expected as late after the gate as the fall is.
/// Input:      as measure_release; the gate stays low for eight windows or more.
/// Error:      0.3 dB plus what the level rises within a window (tests/analysis/release_test.cpp).
/// Refuses:    too_short (too few points in the gap), no_fit (no fall, or none that an exponential
///             describes).
[[nodiscard]] outcome<restrike_reading> measure_restrike(std::span<const gain_point> course,
                                                         seconds gate_falls, seconds gate_rises);

}  // namespace cvrig::analysis
