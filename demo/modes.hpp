#pragma once

namespace ferrule {

enum class mode { tied, struck, wide };
enum class waveform { saw, blend, square };

/// How far the controls reach in a mode.
struct control_ranges {
    double cutoff_lowest_hertz;
    double cutoff_octaves_per_volt;
    double decay_shortest_seconds;
    double decay_longest_seconds;
    double most_resonance;  ///< feedback of the ladder; it would whistle by itself at 4
};

[[nodiscard]] constexpr control_ranges ranges_of(mode which) noexcept {
    switch (which) {
        case mode::struck:
            return {150.0, 0.8, 0.2, 1.0, 2.6};
        case mode::wide:
            return {80.0, 1.25, 0.1, 4.0, 3.8};
        case mode::tied:
            break;
    }
    return {120.0, 1.0, 0.2, 2.0, 3.4};
}

}  // namespace ferrule
