#include "playing.hpp"

#include <cmath>
#include <stdexcept>

namespace playing {

score::score(double seconds, int rate_hertz)
    : stimulus_{rate_hertz, static_cast<int>(ferrule::jack_count), {}} {
    stimulus_.samples.resize(static_cast<std::size_t>(seconds * rate_hertz) * ferrule::jack_count);
}

score& score::set(ferrule::jack which, double from_seconds, double volts) {
    const auto from = static_cast<std::size_t>(from_seconds * stimulus_.rate_hertz);
    for (std::size_t frame = from; frame < stimulus_.frames(); ++frame) {
        stimulus_.samples[frame * ferrule::jack_count + static_cast<std::size_t>(which)] =
            static_cast<float>(volts);
    }
    return *this;
}

score& score::gate(double from_seconds, double to_seconds) {
    return set(ferrule::jack::gate, from_seconds, 5.0).set(ferrule::jack::gate, to_seconds, 0.0);
}

std::vector<double> channel(const ferrule::sound& response, std::size_t index, double from_seconds,
                            double to_seconds) {
    const auto channels = static_cast<std::size_t>(response.channels);
    const auto from = static_cast<std::size_t>(from_seconds * response.rate_hertz);
    const auto to = static_cast<std::size_t>(to_seconds * response.rate_hertz);
    std::vector<double> volts;
    for (std::size_t frame = from; frame < to && frame < response.frames(); ++frame) {
        volts.push_back(static_cast<double>(response.samples[frame * channels + index]));
    }
    return volts;
}

double frequency_hertz(std::span<const double> volts, double rate_hertz) {
    double first = 0.0;
    double last = 0.0;
    int crossings = 0;
    for (std::size_t i = 1; i < volts.size(); ++i) {
        if (volts[i - 1] >= 0.0 || volts[i] < 0.0) continue;
        last = static_cast<double>(i) - volts[i] / (volts[i] - volts[i - 1]);
        if (crossings == 0) first = last;
        ++crossings;
    }
    if (crossings < 2) throw std::runtime_error("no tone");
    return (crossings - 1) * rate_hertz / (last - first);
}

double rms(std::span<const double> volts) {
    double sum = 0.0;
    for (const double v : volts) sum += v * v;
    return std::sqrt(sum / static_cast<double>(volts.size()));
}

double mean(std::span<const double> volts) {
    double sum = 0.0;
    for (const double v : volts) sum += v;
    return sum / static_cast<double>(volts.size());
}

double cents_above(double hertz, double pitch_volts) {
    return 1200.0 * (std::log2(hertz / 65.40639132514966) - pitch_volts);
}

ferrule::module_plan calibrated(std::uint32_t unit, double rate_hertz) {
    ferrule::module_plan plan;
    plan.unit = ferrule::make_specimen(unit);
    plan.stored = ferrule::calibrate(plan.unit, unit);
    plan.rate_hertz = rate_hertz;
    return plan;
}

}  // namespace playing
