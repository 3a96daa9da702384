#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "analysis/loop_sequence.hpp"
#include "rig/bench/self_test.hpp"
#include "rig/bench/self_test_findings.hpp"
#include "rig/bench/self_test_levels.hpp"

namespace cvrig {

/// Goes through what came back of a self-test, and finds one fault after the other. Used once.
class examiner {
public:
    examiner(const bench& b, const self_test_stimulus& sent, const volts_in& heard)
        : bench_{b}, sent_{sent}, heard_{heard}, rate_{b.rate()} {}

    bench_proof examine() &&;

private:
    using samples_view = std::span<const float>;

    void look_at_stream();
    void look_at_loop_rest();
    void look_at_rest();
    void look_at_loop();
    void look_at_whole_samples();
    void look_at_levels();
    void look_at_bandwidth();
    void look_at_crosstalk_into_inputs();
    void look_at_crosstalk_from_outputs();
    void say_why_no_loop();
    [[nodiscard]] bool garbled() const;
    void add(const std::string& name, const reading& r, const limit& allowed,
             const std::string& sentence);
    [[nodiscard]] static samples_view part_of(samples_view x, std::ptrdiff_t from,
                                              std::size_t count);
    [[nodiscard]] samples_view at_rest(samples_view x) const;
    [[nodiscard]] std::vector<float> sequence() const;
    [[nodiscard]] std::ptrdiff_t lag() const;
    [[nodiscard]] std::optional<std::ptrdiff_t> lost_after_sequence() const;

    const bench& bench_;
    const self_test_stimulus& sent_;
    const volts_in& heard_;
    sample_rate rate_;
    std::optional<analysis::loop_reading> loop_;
    rest_levels loop_rest_;
    bool whole_{true};  ///< no sample of the loop-back was lost or repeated
    bool quiet_{true};
    bool mixed_{false};
    std::vector<bool> input_is_quiet_;
    bench_proof out_;
};

}  // namespace cvrig
