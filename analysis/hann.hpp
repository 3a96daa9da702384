#pragma once

#include <algorithm>
#include <cmath>
#include <numbers>

/// The Hann window as a function of time: what it weighs, lets through and shares between windows.
namespace cvrig::analysis {

/// Weight at a place from 0 (the window's beginning) to 1 (its end); the mean weight is 1.
///
/// Definition: 1 - cos(2 pi place); 0 outside.
/// Source:     F. J. Harris, "On the use of windows for harmonic analysis with the discrete Fourier
///             transform", Proc. IEEE 66(1), 1978, section V-C.
[[nodiscard]] inline double hann_weight(double place) noexcept {
    return 1.0 - std::cos(2.0 * std::numbers::pi * std::clamp(place, 0.0, 1.0));
}

/// What is left of a line whose period fits `turns` times into the window; below 0 where its sign turns.
///
/// Definition: sin(pi x) / (pi x) / (1 - x^2): the window's Fourier transform, so also how much of a
///             line is seen `turns` bins beside it.
/// Source:     Harris 1978, section V-C.
[[nodiscard]] inline double hann_response(double turns) noexcept {
    const double x = std::abs(turns);
    if (x < 1e-6) return 1.0;
    if (std::abs(x - 1.0) < 1e-6) return 0.5;
    return std::sin(std::numbers::pi * x) / (std::numbers::pi * x) / (1.0 - x * x);
}

/// What is left of exp(-t / time constant), against its value in the middle of the window, which is
/// `lengths` time constants long.
///
/// Definition: hann_response of an imaginary number: sinh(y) / y / (1 + (y / pi)^2), y = lengths / 2.
[[nodiscard]] inline double hann_response_of_decay(double lengths) noexcept {
    const double y = 0.5 * lengths;
    const double turns = y / std::numbers::pi;
    return y < 1e-6 ? 1.0 : std::sinh(y) / y / (1.0 + turns * turns);
}

/// Correlation of white noise in two windows, `lag` of their length apart.
///
/// Definition: integral of w(t) w(t + lag) over that of w^2.
/// Source:     Harris 1978, section IV-F (overlap correlation); the integral is elementary.
[[nodiscard]] inline double hann_overlap(double lag) noexcept {
    const double x = std::abs(lag);
    if (x >= 1.0) return 0.0;
    const double turned = 2.0 * std::numbers::pi * x;
    return ((1.0 - x) * (1.0 + 0.5 * std::cos(turned)) +
            0.75 / std::numbers::pi * std::sin(turned)) /
           1.5;
}

}  // namespace cvrig::analysis
