#pragma once

#include <array>

namespace ferrule {

/// Four one-pole low-passes in a ring with negative feedback, in the topology-preserving form:
/// trapezoidal integrators, the feedback solved without a delay.
class ladder {
public:
    /// One pole's gain for a cutoff frequency; `cycles` is cutoff over sample rate, below 0.5.
    [[nodiscard]] static double pole_gain(double cycles) noexcept;

    /// One sample; `gain` from pole_gain, `feedback` from 0 to just under 4.
    double next(double sample, double gain, double feedback) noexcept {
        double partial = 0.0;
        for (const double s : state_) partial = partial * gain + s * (1.0 - gain);
        const double gain4 = gain * gain * gain * gain;
        const double out = (gain4 * sample + partial) / (1.0 + feedback * gain4);
        double through = sample - feedback * out;
        for (double& s : state_) {
            const double step = (through - s) * gain;
            through = s + step;
            s = through + step;
        }
        return through;
    }

private:
    std::array<double, 4> state_{};
};

}  // namespace ferrule
