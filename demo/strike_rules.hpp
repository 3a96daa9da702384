#pragma once

#include "demo/faults.hpp"
#include "demo/modes.hpp"

namespace ferrule {

/// What the firmware has noticed in a block.
struct events {
    bool gate = false;
    bool gate_rose = false;
    bool stepped = false;  ///< the pitch stepped under a gate that stayed high
    bool slide = false;
    bool accent_rose = false;
};

/// Which envelopes to strike.
struct strikes {
    bool amplitude = false;
    bool filter = false;
};

/// The truth table of a mode: a new gate strikes both envelopes in all of them; a tied step strikes
/// both in `struck`, with slide or without, and neither in `tied` and `wide`.
[[nodiscard]] strikes strikes_for(mode which, const events& now, const fault_set& faults) noexcept;

}  // namespace ferrule
