#include "rig/bench/self_test_stimulus.hpp"

#include <algorithm>
#include <cmath>

#include "analysis/loop_sequence.hpp"

namespace cvrig {

namespace {

// Seconds of each part; the steps of the stair are three periods of 50 Hz.
struct test_times {
    double rest, sequence, pause, step, gate, closing;
    int steps_each_way;
};

constexpr test_times preamble_times{0.27, 0.5, 0.03, 0.06, 0.5, 0.12, 2};
constexpr test_times thorough_times{1.02, 4.0, 0.05, 0.16, 2.0, 0.25, 4};

constexpr double rest_without_loop = 1.5;  // long enough to time the stream

constexpr volts highest_untripped{0.4};
constexpr volts smallest_room{0.01};

class writer {
public:
    writer(std::vector<float>& to, sample_rate rate) : to_{&to}, rate_{rate} {}

    test_part hold(double seconds_long, volts level) {
        const test_part part{to_->size(), samples(seconds_long)};
        to_->insert(to_->end(), part.samples, static_cast<float>(level.value()));
        return part;
    }

    test_part sequence(double seconds_long, volts level, std::size_t first) {
        const test_part part{to_->size(), samples(seconds_long)};
        for (const float v : analysis::loop_sequence(part.samples, first))
            to_->push_back(v * static_cast<float>(level.value()));
        return part;
    }

private:
    [[nodiscard]] std::size_t samples(double seconds_long) const {
        return static_cast<std::size_t>(std::lround(seconds_long * rate_.value()));
    }

    std::vector<float>* to_;
    sample_rate rate_;
};

// Up through all levels from the lowest to the highest.
void add_stair(self_test_stimulus& out, writer& loop, const test_times& t, volts level) {
    for (int i = -t.steps_each_way; i <= t.steps_each_way; ++i) {
        const volts v = level * (static_cast<double>(i) / t.steps_each_way);
        out.stair.push_back({loop.hold(t.step, v), v});
    }
}

void add_output(self_test_stimulus& test, const bench_output& o, volts resting, std::size_t index) {
    const volts rest = std::clamp(resting, o.lowest, o.highest);
    auto& channel =
        test.out.outputs.emplace_back(test.out.loop.size(), static_cast<float>(rest.value()));
    const volts low = std::max(o.lowest, volts{0.0});
    const volts high = std::min(o.highest, highest_untripped);
    if (high - low < smallest_room || test.gate.samples == 0) {
        test.output_sequences.push_back({});
        test.output_amplitudes.push_back(volts{0.0});
        return;
    }
    const volts amplitude = (high - low) / 2;
    const auto middle = static_cast<float>((low + amplitude).value());
    const auto sequence =
        analysis::loop_sequence(test.gate.samples, self_test_stimulus::output_first(index));
    // A hair inside the limits, since the sum is rounded.
    const auto swing = static_cast<float>(amplitude.value() * (1.0 - 1e-6));
    for (std::size_t n = 0; n < sequence.size(); ++n)
        channel[test.gate.from + n] = middle + swing * sequence[n];
    test.output_sequences.push_back(test.gate);
    test.output_amplitudes.push_back(amplitude);
}

}  // namespace

self_test_stimulus make_self_test(const bench& b, sample_rate rate, self_test_form form,
                                  std::span<const volts> resting) {
    const auto& t = form == self_test_form::preamble ? preamble_times : thorough_times;
    self_test_stimulus out;
    writer loop{out.out.loop, rate};
    out.rest = loop.hold(b.loop ? t.rest : t.rest + rest_without_loop, volts{0.0});
    if (b.loop) {
        out.sequence = loop.sequence(t.sequence, b.loop->level, self_test_stimulus::loop_first);
        loop.hold(t.pause, volts{0.0});
        add_stair(out, loop, t, b.loop->level);
        loop.hold(t.pause, volts{0.0});
        out.gate = loop.hold(t.gate, b.loop->level);
        loop.hold(t.pause, volts{0.0});
        out.closing = loop.sequence(t.closing, b.loop->level, self_test_stimulus::closing_first);
        loop.hold(t.pause, volts{0.0});
    }
    for (std::size_t i = 0; i < b.outputs.size(); ++i)
        add_output(out, b.outputs[i], i < resting.size() ? resting[i] : volts{0.0}, i);
    if (!b.loop) out.out.loop.clear();
    return out;
}

}  // namespace cvrig
