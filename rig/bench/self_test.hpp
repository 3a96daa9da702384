#pragma once

#include <optional>
#include <span>
#include <stop_token>
#include <string>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/bench/self_test_stimulus.hpp"
#include "rig/link/interface.hpp"
#include "rig/run/result.hpp"

namespace cvrig {

/// One thing that the rig found out about itself.
struct bench_finding {
    std::string name;  ///< "gain", "crosstalk into left"
    reading measured;
    limit allowed;
    bool ok{false};  ///< the reading is surely inside (guard band of two standard uncertainties)
    std::string sentence;  ///< unless ok: what is wrong, where, and what to do
};

/// What the rig proved of itself.
struct bench_proof {
    std::vector<bench_finding> findings;
    /// Round trip, where the loop-back cable told it; else what the bench file says.
    std::optional<seconds> latency;
    seconds u_latency{0.0};
    std::vector<std::string> cannot_exclude;  ///< faults that this bench would not see
    bool stopped{false};

    /// Everything that was tested is in order. Without it nothing may be judged.
    [[nodiscard]] bool trusted() const noexcept;
};

/// What came back of a self-test, judged.
///
/// Definition: see self_test_limits.hpp for each limit and its reason. A fault that makes other
///             readings meaningless (no loop-back, lost samples, coupling capacitors) leaves those
///             out, so that each fault is told by its own sentence.
/// Input:      `sent` from make_self_test for the same bench.
[[nodiscard]] bench_proof judge_self_test(const bench& b, const self_test_stimulus& sent,
                                          const volts_in& heard);

/// Plays and judges. `resting` are the voltages at which the module keeps quiet, in the bench's
/// order of outputs; none means 0 V, as near as each output's limits allow.
[[nodiscard]] bench_proof self_test(audio_interface& to, const bench& b, self_test_form form,
                                    std::span<const volts> resting, const std::stop_token& stop);

/// The same as a result among the others, named "bench": pass or unsure, never fail, since a fault
/// of the rig is none of the firmware.
[[nodiscard]] check_result as_check_result(const bench_proof& proof);

/// One sentence for each fault, in the order of the findings; empty if trusted.
[[nodiscard]] std::vector<std::string> faults(const bench_proof& proof);

}  // namespace cvrig
