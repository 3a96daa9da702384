#pragma once

#include "demo/modes.hpp"

#include <array>
#include <cstddef>

namespace ferrule {

/// Saw, square and the half-way blend of them, with band-limited steps.
///
/// The square is the saw less the saw half a period later, so one phase makes both and the blend
/// has every harmonic of both in phase. All three span -1 to 1.
class oscillator {
public:
    /// Steps are smoothed over this many samples, centred: the wave comes out half of it late.
    static constexpr std::size_t step_taps = 32;
    static constexpr std::size_t latency_samples = step_taps / 2;

    /// One sample; `cycles` is frequency over sample rate, above 0 and below 0.25.
    double next(double cycles, waveform shape) noexcept;

private:
    /// Adds a smoothed step of this height which happened `ago` samples (0 to 1) before now.
    void add_step(double height, double ago) noexcept;

    double phase_ = 0.0;
    std::size_t at_ = 0;
    std::array<double, step_taps> corrections_{};
    std::array<double, latency_samples> delayed_{};
};

}  // namespace ferrule
