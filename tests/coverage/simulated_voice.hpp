#pragma once

#include <cstddef>
#include <functional>
#include <vector>

#include "rig/stimulus/passage.hpp"
#include "tests/coverage/simulated_take.hpp"

namespace cvrig::testing {

/// A bass voice whose every quantity is known: a few harmonics, all below any Nyquist frequency, an
/// envelope with straight attack and exponential decay and release, slides exponential in volts.
struct simulated_voice {
    /// Pitch of step `index`, with whatever the bench's own errors make of it.
    std::function<hertz(const step&, std::size_t index)> pitch;
    /// By how much the first 20 ms of a struck note are sharp, drawn anew for each; may be empty.
    std::function<cents()> begins_off{};
    /// What a struck step is louder by; empty: accent_db where it is accented.
    std::function<double(const step&, std::size_t index)> louder_db{};
    /// Cutoff of a low-pass filter of four poles, so long after the strike; empty: no filter.
    std::function<hertz(const step&, double since_strike_s)> cutoff{};
    double feedback{0.0};  ///< of that filter; 4 is the edge of oscillation
    int filter_runs{1};    ///< so often in each sample, as one at a higher rate does
    double slide_tau_s{0.022};
    double step_tau_s{0.0};         ///< of steps without slide
    double stops_short_cents{0.0};  ///< a slide's end, on the side from which it came
    double overshoot_cents{0.0};    ///< a slide turns round this far beyond its end
    double pitch_lag_s{
        0.0};  ///< the time constant of a pole that follows the slide: its top is round
    std::vector<double> step_late_samples{};  ///< of each tied step, 0 to 1; 0 beyond the list
    double level_volts{2.0};
    double attack_s{0.003};
    double decay_s{3.5};
    double release_s{0.008};
    double accent_db{4.0};
    double dc_volts{0.0};
    double start_phase_cycles{0.0};
    std::vector<double> gains{1.0, 1.0};  ///< of each output, bench errors included
    std::size_t harmonics{8};
    /// By what share each harmonic of the sawtooth is off at the source; empty: none.
    std::vector<double> harmonics_off{};

    [[nodiscard]] std::vector<std::vector<double>> sound(const passage& asked, std::size_t samples,
                                                         sample_rate rate) const;
};

/// The amplitude-weighted mean of the harmonics of a saw through the filter at rest.
[[nodiscard]] double centroid_through(const simulated_voice& voice, hertz pitch, hertz cutoff);

/// Errors of a bench's pitch voltage: a straight line whose two ends, at 0 V and 4 V, are each off
/// by chance.
struct pitch_bench_error {
    double at_bottom_volts{0.0}, at_top_volts{0.0};
    [[nodiscard]] double at(double v) const {
        return at_bottom_volts + (at_top_volts - at_bottom_volts) * v / 4.0;
    }
};

[[nodiscard]] pitch_bench_error draw_pitch_error(simulated_desk& desk);

}  // namespace cvrig::testing
