#pragma once

#include "demo/handover.hpp"
#include "demo/jack/jack_client.hpp"
#include "demo/render.hpp"

#include <array>
#include <atomic>
#include <chrono>
#include <optional>

namespace ferrule {

/// Which outputs carry the sound.
enum class route { both, left, right };

/// What the module's other half tells the sounding one.
struct live_order {
    settings set;
    calibration stored;
    ferrule::route route = ferrule::route::both;
    bool muted = false;           ///< nothing sounds, as while the module is calibrated
    bool restart = false;         ///< begin again, with the module that start_again() was given
    double silent_seconds = 0.0;  ///< before a restart
    bool measure_pitch = false;   ///< begin to take the mean of the pitch jack's codes
    double stall_seconds = 0.0;   ///< keep the audio callback waiting: a deliberate fault
};

/// The module as it sounds: runs in the audio callback of whatever interface it sits on. One input
/// a jack and one output an output, in the order of their enumerations.
class sounding : public audio_worker {
public:
    explicit sounding(const module_plan& plan);

    void process(std::size_t frames, std::span<const float* const> in,
                 std::span<float* const> out) noexcept override;

    /// Gives an order and waits until it is taken. False if no callback takes it for a while.
    bool give(const live_order& order);
    /// The same, and the module begins anew after that silence.
    bool start_again(const module_plan& plan, live_order order, double silent_seconds);
    /// The mean converter code of the pitch jack over the next 4096 readings.
    [[nodiscard]] std::optional<double> measure_pitch_code(live_order order);

    /// Audio time since the start; in freewheel it runs faster than the clock.
    [[nodiscard]] double seconds() const noexcept;
    [[nodiscard]] double rate_hertz() const noexcept { return rate_hertz_; }
    /// Share of the time between two callbacks that is spent in them.
    [[nodiscard]] double load_percent() const noexcept { return load_percent_.load(); }

private:
    void obey_orders() noexcept;
    void follow_measurement() noexcept;
    void play_frame(std::span<const float, jack_count> in,
                    std::span<float, output_count> out) noexcept;
    void fade() noexcept;
    void note_load(std::chrono::steady_clock::duration busy, std::size_t frames) noexcept;

    double rate_hertz_;
    host playing_;
    std::optional<host> next_;  ///< written only while no order waits
    handover<live_order> orders_;
    live_order order_;
    std::size_t silent_frames_ = 0;
    std::size_t frame_of_block_ = 0;
    std::array<float, output_count> gains_{1.0F, 1.0F};
    int readings_left_ = 0;
    double code_sum_ = 0.0;
    std::atomic<double> measured_code_{0.0};
    std::atomic<bool> measured_{false};
    std::atomic<std::uint64_t> frames_{0};
    std::atomic<double> load_percent_{0.0};
};

}  // namespace ferrule
