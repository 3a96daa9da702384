#pragma once

#include "rig/bench/bench.hpp"
#include "rig/expectations/expectations.hpp"

namespace cvrig {

/// What the uncertainty of a bench's voltages does to a module that is calibrated with them.
struct bench_support {
    double u_cents{0.0};       ///< standard uncertainty of the worst note afterwards
    double at_volts{0.0};      ///< where that is
    double wanted_cents{0.0};  ///< largest error that the file allows
    double most_u_volts{0.0};  ///< of the pitch output, to support what is wanted
    bool is_enough{false};
};

/// Definition: the straight line of least squares through the procedure's voltages, each off by the
///             output's standard uncertainty in whichever sense is worst (they come from one meter, so
///             nothing averages out), told at the end of the pitch range where that matters most:
///             u * sum |1/n + (x_i - mean) (v - mean) / S_xx|. Enough if k times that leaves the
///             module half of what is wanted: a measurement capability index of 2 (JCGM 106:2012, 7.6;
///             that it must be 2 is our own choice).
/// Source:     JCGM 100:2008, H.3, for the line; 5.2.2, note 1, for full correlation.
/// Input:      a bench that feeds jack 'pitch', a file with a calibration of two voltages or more.
[[nodiscard]] bench_support support_of(const bench& b, const module_expectations& m);

/// Throws user_error, with the place of the output in the bench file, if the bench cannot support the
/// accuracy that the file wants.
void require_support(const bench& b, const module_expectations& m);

}  // namespace cvrig
