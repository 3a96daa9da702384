#include "rig/checks/listening.hpp"

#include <algorithm>
#include <cmath>

namespace cvrig {

std::span<const double> part(std::span<const double> record, std::size_t begin, std::size_t end) {
    end = std::min(end, record.size());
    begin = std::min(begin, end);
    return record.subspan(begin, end - begin);
}

namespace {
std::size_t samples(seconds t, sample_rate rate) {
    return static_cast<std::size_t>(std::llround(std::max(0.0, t.value()) * rate.value()));
}
}  // namespace

std::span<const double> part_of_step(const heard_passage& heard, std::size_t jack,
                                     std::size_t index, seconds skip, seconds early) {
    const std::size_t begin = heard.step_starts[index] + samples(skip, heard.rate);
    const std::size_t last =
        index + 1 < heard.step_starts.size() ? heard.step_starts[index + 1] : heard.end;
    const std::size_t cut = samples(early, heard.rate);
    return part(heard.volts[jack], begin, last > cut ? last - cut : 0);
}

volts noise_of(std::span<const double> silence) {
    if (silence.empty()) return volts{0.0};
    double sum = 0.0;
    double squares = 0.0;
    for (const double v : silence) {
        sum += v;
        squares += v * v;
    }
    const auto n = static_cast<double>(silence.size());
    return volts{std::sqrt(std::max(0.0, squares / n - (sum / n) * (sum / n)))};
}

bool sounds(const heard_passage& heard, std::size_t jack, std::span<const double> record) {
    // Noise of the same kind differs far less than this from one stretch to the next.
    constexpr double beyond_noise = 4.0;
    constexpr volts audible{1e-4};
    return noise_of(record) > std::max(audible, noise_of(heard.silence[jack]) * beyond_noise);
}

analysis::outcome<analysis::tone_reading> pitch_near(std::span<const double> record,
                                                     sample_rate rate, hertz expected) {
    analysis::tone_request request;
    request.lowest = std::max(hertz{20.0}, expected * 0.4);
    request.highest = std::min(hertz{4000.0}, std::max(expected * 2.6, hertz{60.0}));
    if (auto found = analysis::measure_tone(record, rate, request)) return found;
    return analysis::measure_tone(record, rate);
}

cents bench_pitch_uncertainty(const check_request& request) {
    for (const auto& output : request.desk.outputs) {
        if (output.jack == "pitch")
            return cents{std::abs(request.module.pitch.per_volt(output.u).value())};
    }
    return cents{0.0};
}

cents strike_repeatability() {
    return cents{0.003};
}

cents clock_pitch_uncertainty(const check_request& request) {
    return cents{1200.0 / std::log(2.0) * request.desk.u_clock_ppm * 1e-6};
}

decibels gain_uncertainty(const check_request& request, std::size_t jack) {
    const auto& wanted = request.module.listen[jack];
    for (const auto& input : request.desk.inputs) {
        if (input.jack == wanted)
            return decibels{20.0 / std::log(10.0) * input.u_gain_percent / 100.0};
    }
    return decibels{0.0};
}

double parameter(const check_request& request, const char* key, double otherwise) {
    const auto* found = request.wanted.find<measure>(key, request.choice);
    return found == nullptr ? otherwise : found->in_base_unit;
}

}  // namespace cvrig
