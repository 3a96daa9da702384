#pragma once

#include <array>
#include <cstddef>

namespace ferrule {

/// How the two waves are mixed and made.
struct wave_mix {
    double saw = 1.0;
    double square = 0.0;
    double high_share = 0.5;  ///< of its period in which the square is high
    bool smooth_steps = true;
};

/// Saw and square from one phase, with band-limited steps.
///
/// The square falls where the saw crosses zero, so it is the saw less the saw half a period later,
/// and in a mix of both every harmonic adds in phase. Each spans -1 to 1.
class oscillator {
public:
    /// Steps are smoothed over this many samples, centred: the wave comes out half of it late.
    static constexpr std::size_t step_taps = 32;
    static constexpr std::size_t latency_samples = step_taps / 2;

    /// One sample; `cycles` is frequency over sample rate, above 0 and below 0.25.
    double next(double cycles, const wave_mix& mix) noexcept;

private:
    /// Adds a smoothed step of this height which happened `ago` samples (0 to 1) before now.
    void add_step(double height, double ago) noexcept;

    double phase_ = 0.0;
    std::size_t at_ = 0;
    std::array<double, step_taps> corrections_{};
    std::array<double, latency_samples> delayed_{};
};

}  // namespace ferrule
