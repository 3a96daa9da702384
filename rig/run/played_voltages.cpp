#include "rig/run/played_voltages.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <span>

#include "rig/run/held_levels.hpp"

namespace cvrig {

namespace {

using namespace literals;

// Whole periods of the mains and of its harmonics in each half, whether it has 50 or 60 Hz.
constexpr seconds record_length = 400_ms;
constexpr seconds interface_delay = 100_ms;

double mean_of(std::span<const float> x) {
    return std::accumulate(x.begin(), x.end(), 0.0) / static_cast<double>(x.size());
}

/// Each output holds what it held.
volts_out steady(const std::vector<volts>& held, std::size_t frames) {
    volts_out out;
    for (const volts v : held) out.outputs.emplace_back(frames, static_cast<float>(v.value()));
    return out;
}

}  // namespace

std::string played_voltages::hold(const std::map<std::string, volts>& at) {
    held_ = held_levels(bench_, module_, at);
    interface_.hold(held_);
    return {};
}

bool played_voltages::has_sense(const std::string& jack) const {
    return std::ranges::find(bench_.inputs, jack, &bench_input::jack) != bench_.inputs.end();
}

std::optional<sensed_voltage> played_voltages::sense(const std::string& jack) {
    const auto input = std::ranges::find(bench_.inputs, jack, &bench_input::jack);
    if (input == bench_.inputs.end() || held_.empty()) return std::nullopt;
    const auto frames_of = [&](seconds s) {
        return static_cast<std::size_t>(s.value() * interface_.rate().value());
    };
    const auto skipped = frames_of(interface_delay);
    const auto heard =
        interface_.exchange(steady(held_, skipped + frames_of(record_length)), seconds{0.0}, stop_);
    const auto& channel = heard.inputs[static_cast<std::size_t>(input - bench_.inputs.begin())];
    if (heard.stopped || !heard.events.empty() ||
        channel.size() < skipped + frames_of(record_length))
        return std::nullopt;
    const auto whole = std::span{channel}.subspan(skipped);
    const auto half = whole.size() / 2;
    const double first = mean_of(whole.first(half));
    const double second = mean_of(whole.subspan(half));
    const double mean = 0.5 * (first + second);
    const double u_gain = std::abs(mean) * input->u_gain_percent / 100.0;
    return sensed_voltage{volts{mean}, volts{std::hypot(u_gain, second - first)},
                          volts{second - first}};
}

}  // namespace cvrig
