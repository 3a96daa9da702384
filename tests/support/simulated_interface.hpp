#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/link/interface.hpp"
#include "tests/support/signal_path.hpp"

namespace cvrig::testing {

/// What an audio interface, its cables and the computer's sound system may do to a signal. As it
/// stands it is a good interface: converter filters, little noise, nothing else.
struct interface_manners {
    double delay_samples{612.4};
    double cutoff{0.455};  ///< of the converters, as a part of the sample rate
    double noise_volts{0.0002};

    double gain{1.0};       ///< of all outputs: a software volume, a cold leg
    double loop_gain{1.0};  ///< of the loop-back alone
    volts loop_offset{0.0};
    std::optional<hertz> output_corner;  ///< coupling capacitors
    std::optional<hertz> input_corner;
    volts hum{0.0};  ///< amplitude, on every input
    hertz hum_frequency{50.0};
    volts clips_at{12.0};  ///< of every input
    double bend{0.0};      ///< third-order curve: v - bend * v^3, v in volts

    double loop_to_inputs{0.0};   ///< crosstalk, as a ratio of voltages
    double outputs_to_loop{0.0};  ///< each output into the loop-back: crosstalk, or a mixer
    volts foreign_on_loop{0.0};   ///< amplitude of somebody else's sound
    volts foreign_on_inputs{0.0};

    double drift_ppm{0.0};   ///< two clocks: the record runs this much too fast
    bool resampled{false};   ///< to 44.1 kHz and back
    double rate_ratio{1.0};  ///< playing over recording rate
    std::vector<slip> slips;
    /// By the computer's clock; 0: as the nominal rate.
    double frames_per_second{0.0};
    std::vector<stream_event> events;

    bool loop_cable{true};
    std::optional<std::size_t> loop_cable_in_input;  ///< from 0: plugged in there instead
    std::uint64_t seed{1};
};

/// What hangs between the outputs and the inputs of the bench: socket volts in and out, without any
/// delay. The outer lists are in bench order.
using patched_module = std::function<std::vector<std::vector<float>>(
    const std::vector<std::vector<float>>& outputs, sample_rate rate)>;

/// A module that neither hears nor says anything.
[[nodiscard]] patched_module silent_module(std::size_t inputs);

/// An audio interface in memory, with manners of choice. Deterministic: the noise of the n-th
/// exchange follows from the seed.
class simulated_interface : public audio_interface {
public:
    simulated_interface(const bench& b, interface_manners manners, patched_module module);

    volts_in exchange(const volts_out& out, seconds tail, std::stop_token stop) override;
    void hold(std::span<const volts> outputs) override;
    [[nodiscard]] sample_rate rate() const override { return bench_.rate(); }
    [[nodiscard]] std::string description() const override;

    interface_manners manners;  ///< may be changed between exchanges

    [[nodiscard]] const std::vector<volts>& held() const noexcept { return held_; }
    [[nodiscard]] int exchanges() const noexcept { return exchanges_; }

private:
    using channels = std::vector<std::vector<float>>;

    void require_limits(const volts_out& out) const;
    [[nodiscard]] channels sockets(const volts_out& out, std::size_t frames) const;
    [[nodiscard]] std::vector<float> output_stage(std::vector<float> x) const;
    [[nodiscard]] std::vector<float> through(const std::vector<float>& x) const;
    void input_stage(std::vector<float>& x, std::uint64_t channel) const;

    bench bench_;
    patched_module module_;
    std::vector<volts> held_;
    int exchanges_{0};
};

}  // namespace cvrig::testing
