#pragma once

#include <cstddef>
#include <vector>

#include "analysis/units.hpp"
#include "rig/bench/bench.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/link/interface.hpp"

/// What the patch check plays.
namespace cvrig::patching {

/// Voltages that may be put on any output, whatever jack its cable really leads to.
struct safe_levels {
    std::vector<volts> high;  ///< of each output: opens any gate if the output can
    std::vector<volts> half;  ///< of each output: 2 V where it can
    volts lower, upper;       ///< two notes, an octave apart, low enough to open no gate
    volts top_lower, top;     ///< two notes, an octave apart, the upper high enough to open a gate
};

[[nodiscard]] safe_levels levels_for(const bench& b, const module_expectations& m);

/// A part of a score in which every output holds its level; samples from the score's start.
struct held_part {
    std::size_t begin{0}, end{0};
};

/// Levels against time, written as one plays: set outputs, then hold for a while.
class score_writer {
public:
    score_writer(const bench& b, sample_rate rate);

    /// Held to the output's own limits.
    void set(std::size_t output, volts v);
    void set_all(const std::vector<volts>& v);
    void rest();
    held_part hold(seconds length);

    [[nodiscard]] volts_out take() &&;

private:
    const bench& bench_;
    sample_rate rate_;
    std::vector<float> now_;
    volts_out out_;
};

}  // namespace cvrig::patching
