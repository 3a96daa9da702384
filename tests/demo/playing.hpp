#pragma once

#include "demo/render.hpp"

#include <span>
#include <vector>

/// Helpers for tests: a stimulus written in seconds and volts, and plain readings of a response.
namespace playing {

/// Volts of all six jacks against time, in the default order.
class score {
public:
    explicit score(double seconds, int rate_hertz = 48000);

    /// From this time on the jack has this voltage.
    score& set(ferrule::jack which, double from_seconds, double volts);

    /// Gate high from one time to another.
    score& gate(double from_seconds, double to_seconds);

    [[nodiscard]] const ferrule::sound& stimulus() const noexcept { return stimulus_; }

private:
    ferrule::sound stimulus_;
};

/// One channel of a response from one time to another, in volts.
[[nodiscard]] std::vector<double> channel(const ferrule::sound& response, std::size_t index,
                                          double from_seconds, double to_seconds);

/// Frequency from the first to the last rising zero crossing, each interpolated.
[[nodiscard]] double frequency_hertz(std::span<const double> volts, double rate_hertz);

[[nodiscard]] double rms(std::span<const double> volts);
[[nodiscard]] double mean(std::span<const double> volts);

/// How far a frequency lies above the note that this pitch voltage asks for.
[[nodiscard]] double cents_above(double hertz, double pitch_volts);

/// A module of this unit, calibrated as its user would.
[[nodiscard]] ferrule::module_plan calibrated(std::uint32_t unit, double rate_hertz = 48000.0);

}  // namespace playing
