#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/link/interface.hpp"

namespace cvrig {

/// A preamble of 2 s before a run, or a longer look that sees smaller faults.
enum class self_test_form { preamble, thorough };

/// A part of a self-test, in samples of what was sent.
struct test_part {
    std::size_t from{0};
    std::size_t samples{0};

    [[nodiscard]] std::size_t end() const noexcept { return from + samples; }
};

struct test_step {
    test_part part;
    volts level;
};

/// What a self-test plays.
///
/// The loop-back channel has, one after the other: rest; a known sequence at full level; a stair of
/// levels with both ends; a long gate; the known sequence again, from another place on, so that what
/// is lost in between is seen too. The outputs rest, but for a small sequence each while the
/// gate lasts: between 0 and 0.4 V, which is below where gates trip (0.7 V at the lowest; common
/// practice, no source), so that nothing is struck.
struct self_test_stimulus {
    volts_out out;
    seconds tail{0.55};  ///< for the longest latency, and a little more
    test_part rest;
    test_part sequence;
    std::vector<test_step> stair;
    test_part gate;
    test_part closing;
    /// For each output; empty where its limits leave no room.
    std::vector<test_part> output_sequences;
    std::vector<volts> output_amplitudes;

    static constexpr std::size_t loop_first = 0;  ///< of the known sequence
    static constexpr std::size_t closing_first = 5'000'000;
    [[nodiscard]] static constexpr std::size_t output_first(std::size_t output) noexcept {
        return 10'000'000 * (output + 1);
    }
};

[[nodiscard]] self_test_stimulus make_self_test(const bench& b, sample_rate rate,
                                                self_test_form form,
                                                std::span<const volts> resting = {});

}  // namespace cvrig
