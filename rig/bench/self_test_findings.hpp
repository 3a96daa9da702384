#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "analysis/loop_sequence.hpp"
#include "rig/bench/self_test.hpp"
#include "rig/bench/self_test_levels.hpp"

/// How readings become findings, and the words for them.
namespace cvrig {

[[nodiscard]] limit at_most(double most, dimension unit);
[[nodiscard]] limit at_least(double least, dimension unit);
[[nodiscard]] limit within(double nominal, double tolerance, dimension unit);

/// In order if the reading is surely inside its limit; else with `sentence`, or, where it is only
/// too uncertain, with a sentence that says that.
[[nodiscard]] bench_finding make_finding(const std::string& name, const reading& measured,
                                         const limit& allowed, const std::string& sentence);

/// A reading with one part in its budget.
[[nodiscard]] reading one_part(const estimate& e, dimension unit, const std::string& part);

/// "OUT 4" or "output 4", as it is printed or counted.
[[nodiscard]] std::string socket_of(const bench_output& o);
[[nodiscard]] std::string socket_of(const bench_input& i);
[[nodiscard]] std::string loop_output_of(const loop_back& l);
[[nodiscard]] std::string loop_input_of(const loop_back& l);

/// What a gain through the loop-back says about the bench.
[[nodiscard]] std::string gain_sentence(const loop_back& l, double gain);
[[nodiscard]] std::string droop_sentence(const loop_back& l, double falls_per_second);
[[nodiscard]] std::string stair_sentence(const loop_back& l, const stair_levels& stair);
[[nodiscard]] std::string samples_sentence(const analysis::loop_reading& loop,
                                           std::size_t begins_at, sample_rate rate);
/// What was lost behind the sequence, which ends at `from`; empty if the closing one is missing.
[[nodiscard]] std::string later_samples_sentence(std::optional<std::ptrdiff_t> lost_samples,
                                                 std::size_t from, const test_part& closing,
                                                 sample_rate rate);
[[nodiscard]] std::string clock_sentence(double rate_error, sample_rate rate);
[[nodiscard]] std::string noise_sentence(const std::string& where, volts rms);
[[nodiscard]] std::string mains_sentence(const std::string& where, volts rms, double hertz_at);
[[nodiscard]] std::string event_sentence(const stream_event& e, sample_rate rate);

/// What a bench without a loop-back cable cannot exclude, one sentence each.
[[nodiscard]] std::vector<std::string> unproven_without_loop();

}  // namespace cvrig
